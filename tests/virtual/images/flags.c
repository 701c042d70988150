/* Test board: what interrupt flags do while nobody listens. Waits 20 ms for a pulse on P1 (PK0), then answers on UART0:
   'F' if the pin change flag is up although its interrupt is off, 'c' if writing a one clears it and no interrupt comes of it,
   then at once 't' from a timer interrupt that is enabled when its flag is already up, and '.'. */
#include <avr/interrupt.h>
#include <avr/io.h>
#include <util/delay.h>

static volatile uint8_t changes, matches;

static void put(uint8_t byte) {
  while (!(UCSR0A & _BV(UDRE0))) {
  }
  UDR0 = byte;
}

ISR(PCINT2_vect) { ++changes; }
ISR(TIMER1_COMPA_vect) {
  ++matches;
  TIMSK1 = 0;
}

int main(void) {
  UBRR0 = 1;
  UCSR0B = _BV(TXEN0);
  PCMSK2 = 1;
  OCR1A = 100;
  TCCR1B = _BV(CS10);
  sei();
  _delay_ms(20);
  put(PCIFR & _BV(PCIF2) ? 'F' : '-');
  PCIFR = _BV(PCIF2);
  PCICR = _BV(PCIE2);
  _delay_us(10);
  put(changes == 0 && !(PCIFR & _BV(PCIF2)) ? 'c' : '-');
  TIMSK1 = _BV(OCIE1A);
  __asm__ volatile("nop\nnop");
  put(matches == 1 ? 't' : '-');
  put('.');
  for (;;) {
  }
}
