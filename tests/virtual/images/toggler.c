/* Test controller: PB1 (OC1A) toggles every 8000 cycles (1 kHz at 16 MHz) by compare match in CTC mode, without software. PB2 goes
   high with the first instruction of main. PD7 is the lowest bit of a byte in RAM that no start-up code sets. */
#include <avr/io.h>
#include <avr/sleep.h>

static volatile uint8_t stale __attribute__((section(".noinit")));

int main(void) {
  DDRB = _BV(PB1) | _BV(PB2);
  PORTB = _BV(PB2);
  DDRD = _BV(PD7);
  if (stale & 1) PORTD = _BV(PD7);
  stale = 0xFF;
  OCR1A = 7999;
  TCCR1A = _BV(COM1A0);
  TCCR1B = _BV(WGM12) | _BV(CS10);
  for (;;) {
  }
}
