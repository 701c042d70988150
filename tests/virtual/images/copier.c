/* Test controller: copies PD2 to PB1 and PD3 to PB2 in a busy loop, like a program that never sleeps. */
#include <avr/io.h>

int main(void) {
  DDRB = _BV(PB1) | _BV(PB2);
  for (;;) PORTB = (uint8_t)((PIND >> 1) & (_BV(PB1) | _BV(PB2)));
}
