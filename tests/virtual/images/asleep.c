/* Test board that goes to sleep 60 times, each time with an interrupt that comes one cycle later than the time before: some before interrupts
   are enabled, some between that and the sleep instruction, some after it. None may be slept over; the other timer would end it after
   1 ms. Answers on UART0 how many were, as a letter from A for none. */
#include <avr/interrupt.h>
#include <avr/io.h>
#include <avr/sleep.h>

static volatile uint8_t came;
static volatile uint8_t gave_up;

ISR(TIMER1_COMPA_vect) { came = 1; }
ISR(TIMER3_COMPA_vect) { gave_up = 1; }

int main(void) {
  uint8_t overslept = 0;
  UBRR0 = 1;
  UCSR0B = _BV(TXEN0);
  TCCR1B = _BV(CS10);
  TCCR3B = _BV(CS30);
  set_sleep_mode(SLEEP_MODE_IDLE);
  for (uint8_t delay = 14; delay < 74; ++delay) {
    cli();
    came = 0;
    gave_up = 0;
    OCR3A = TCNT3 + 16000;
    TIFR3 = _BV(OCF3A);
    TIMSK3 = _BV(OCIE3A);
    OCR1A = TCNT1 + delay;
    TIFR1 = _BV(OCF1A);
    TIMSK1 = _BV(OCIE1A);
    sleep_enable();
    sei();
    sleep_cpu();
    if (gave_up) ++overslept;
    TIMSK1 = 0;
    TIMSK3 = 0;
  }
  while (!(UCSR0A & _BV(UDRE0))) {
  }
  UDR0 = 'A' + overslept;
  for (;;) {
  }
}
