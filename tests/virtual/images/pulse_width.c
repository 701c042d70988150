/* Test controller: pulses on OC1A, PB1, from a timer that counts to ICR1 = 19999, a cycle a count. The compare register is
   written in the middle of a pulse, shorter than the pulse is already, and again in the gap. */
#include <avr/io.h>

static void at(uint16_t count, uint16_t compare) {
  while (TCNT1 < count) {
  }
  OCR1A = compare;
  while (TCNT1 >= count) {
  }
}

int main(void) {
  DDRB = _BV(PB1);
  ICR1 = 19999;
  OCR1A = 5999;
  TCCR1A = _BV(COM1A1) | _BV(WGM11);
  TCCR1B = _BV(WGM13) | _BV(WGM12) | _BV(CS10);
  at(15000, 5999);
  at(3000, 999);
  at(15000, 7999);
  for (;;) {
  }
}
