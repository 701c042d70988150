/* Test board that never sleeps, relay on: drives S1 (OC1A, PB5) in the ways in which a pin and its compare unit can disagree, one way each 10 ms, while PB0 is
   written all the time; then answers on UART0 what it read back from PINB and PORTB. Timer 1 runs at 1 tick a cycle. */
#include <avr/io.h>
#include <util/delay.h>

static void put(uint8_t byte) {
  while (!(UCSR0A & _BV(UDRE0))) {
  }
  UDR0 = byte;
}

static void busy_port(uint16_t times) {
  while (times--) PORTB ^= _BV(PB0);
}

int main(void) {
  DDRA = _BV(PA0);
  PORTA = _BV(PA0);
  UBRR0 = 1;
  UCSR0B = _BV(TXEN0);
  DDRB = _BV(PB5) | _BV(PB0);
  /* 1: one pulse of 1000 ticks by set and clear on match, then over several overflows with the unit still connected */
  TCCR1B = _BV(CS10);
  OCR1A = 20000;
  TCNT1 = 0;
  TCCR1A = _BV(COM1A1) | _BV(COM1A0);
  while (TCNT1 < 20010u) {
  }
  TCCR1A = _BV(COM1A1);
  OCR1A = 20999;
  busy_port(30000);
  /* 2: toggled high, then disconnected: back to the port's level, which toggling does not change */
  TCCR1A = _BV(COM1A0);
  TCNT1 = 0;
  OCR1A = 1000;
  while (TCNT1 < 1100u) {
  }
  put((uint8_t)((PINB & _BV(PB5)) | (PORTB & _BV(PB5)) >> 5)); /* 0x20: pin high, port low */
  TCCR1A = 0;
  put((uint8_t)(PINB & _BV(PB5))); /* 0 */
  _delay_ms(1);
  /* 3: connected again: the latch is still high; a forced match clears it */
  TCCR1A = _BV(COM1A1);
  _delay_ms(1);
  TCCR1C = _BV(FOC1A);
  _delay_ms(1);
  /* 4: as an input it is low through the pull-down, whatever the port says */
  TCCR1A = 0;
  PORTB |= _BV(PB5);
  _delay_ms(1);
  DDRB &= (uint8_t)~_BV(PB5);
  _delay_ms(1);
  put('.');
  for (;;) {
  }
}
