/* Test board: relay on from the start; S1 (OC1A) gives 1500 us pulses (24000 ticks) every 20 ms from compare matches; every capture
   on R1 (ICP4) and every change of P1 (PK0) is sent as 5 bytes: 'r' or 'f' (R1 rose, fell) or 'P' or 'p', then the 32-bit tick,
   low byte first. Timer 4 counts ticks. */
#include <avr/interrupt.h>
#include <avr/io.h>
#include <avr/sleep.h>

static volatile uint8_t ring[256];
static volatile uint8_t head, tail;
static volatile uint16_t high;

static void put_edge(uint8_t kind, uint16_t upper, uint16_t lower) {
  ring[head++] = kind;
  ring[head++] = (uint8_t)lower;
  ring[head++] = (uint8_t)(lower >> 8);
  ring[head++] = (uint8_t)upper;
  ring[head++] = (uint8_t)(upper >> 8);
  UCSR0B |= _BV(UDRIE0);
}

ISR(USART0_UDRE_vect) {
  UDR0 = ring[tail++];
  if (head == tail) UCSR0B &= (uint8_t)~_BV(UDRIE0);
}

ISR(TIMER4_OVF_vect) { ++high; }

static uint16_t upper_of(uint16_t lower) {
  return (uint16_t)(high + ((TIFR4 & _BV(TOV4)) && lower < 0x8000u ? 1 : 0));
}

ISR(TIMER4_CAPT_vect) {
  const uint16_t lower = ICR4;
  const uint8_t rose = TCCR4B & _BV(ICES4);
  TCCR4B ^= _BV(ICES4);
  put_edge(rose ? 'r' : 'f', upper_of(lower), lower);
}

ISR(PCINT2_vect) {
  const uint16_t lower = TCNT4;
  put_edge(PINK & 1 ? 'P' : 'p', upper_of(lower), lower);
}

static volatile uint8_t rising = 1;

ISR(TIMER1_COMPA_vect) {
  if (rising) { /* the rise has just happened */
    TCCR1A = _BV(COM1A1);
    OCR1A += 24000u;
  } else {
    static uint8_t turns; /* the pause of 296000 ticks is four full turns of the timer and 33856 ticks */
    TCCR1A = 0;
    if (turns++ < 4) return;
    turns = 0;
    OCR1A += 33856u;
    TCCR1A = _BV(COM1A1) | _BV(COM1A0);
  }
  rising = !rising;
}

int main(void) {
  DDRA = _BV(PA0);
  PORTA = _BV(PA0);
  DDRB = _BV(PB5);
  UBRR0 = 1;
  UCSR0B = _BV(TXEN0);
  TCCR4B = _BV(ICES4) | 1;
  TIMSK4 = _BV(ICIE4) | _BV(TOIE4);
  PCICR = _BV(PCIE2);
  PCMSK2 = 1;
  OCR1A = 16000;
  TCCR1A = _BV(COM1A1) | _BV(COM1A0);
  TCCR1B = 1;
  TIMSK1 = _BV(OCIE1A);
  sei();
  set_sleep_mode(SLEEP_MODE_IDLE);
  for (;;) sleep_mode();
}
