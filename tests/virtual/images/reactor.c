/* Test controller: INT0 (PD2) copies its pin to PB1 as fast as an interrupt can, out of a loop of two-cycle jumps, or, built with
   -DSLEEP as the image "sleeper", out of idle sleep. */
#include <avr/interrupt.h>
#include <avr/io.h>
#include <avr/sleep.h>

ISR(INT0_vect, ISR_NAKED) {
  __asm__ volatile(
      "sbis %0, 2\n rjmp 1f\n sbi %1, 1\n reti\n"
      "1: cbi %1, 1\n reti\n" ::"I"(_SFR_IO_ADDR(PIND)),
      "I"(_SFR_IO_ADDR(PORTB)));
}

int main(void) {
  DDRB = _BV(PB1);
  EICRA = _BV(ISC00);
  EIMSK = _BV(INT0);
  sei();
  for (;;) {
#ifdef SLEEP
    sleep_mode();
#endif
  }
}
