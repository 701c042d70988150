/* Test board: echoes UART0 at 500 kbaud, sleeping between bytes. A few byte values act on the bench pins instead of being echoed:
   'P' relay on, 'p' off; 'r' hold the controller in reset, 'R' release; 'W' stop feeding the watchdog; 's' answer with the stop loop;
   'v' answer with the top eight bits of ADC0; 'm' answer with MCUSR as found at the start; 'Z' do nothing else for 1 ms. */
#include <avr/interrupt.h>
#include <avr/io.h>
#include <avr/sleep.h>
#include <avr/wdt.h>
#include <util/delay.h>

static volatile uint8_t ring[256];
static volatile uint8_t head, tail;
static volatile uint8_t feed = 1;
static uint8_t cause;

static void put(uint8_t byte) {
  ring[head++] = byte;
  UCSR0B |= _BV(UDRIE0);
}

ISR(USART0_UDRE_vect) {
  UDR0 = ring[tail++];
  if (head == tail) UCSR0B &= (uint8_t)~_BV(UDRIE0);
}

static uint8_t supply(void) {
  ADMUX = _BV(REFS0) | _BV(ADLAR);
  ADCSRA = _BV(ADEN) | _BV(ADSC) | 7;
  while (ADCSRA & _BV(ADSC)) {
  }
  (void)ADCL;
  return ADCH;
}

ISR(USART0_RX_vect) {
  const uint8_t byte = UDR0;
  switch (byte) {
    case 'P': PORTA |= _BV(PA0); break;
    case 'p': PORTA &= (uint8_t)~_BV(PA0); break;
    case 'r': DDRA |= _BV(PA1); break;
    case 'R': DDRA &= (uint8_t)~_BV(PA1); break;
    case 'W': feed = 0; break;
    case 's': put(PINA & _BV(PA2) ? 'o' : 'c'); break;
    case 'v': put(supply()); break;
    case 'm': put(cause); break;
    case 'Z': _delay_ms(1); break;
    default: put(byte);
  }
}

ISR(TIMER0_COMPA_vect) {
  if (feed) wdt_reset();
}

int main(void) {
  cause = MCUSR;
  MCUSR = 0;
  wdt_enable(WDTO_120MS);
  DDRA = _BV(PA0);
  PORTA = _BV(PA2);
  UBRR0 = 1;
  UCSR0A = 0;
  UCSR0B = _BV(RXEN0) | _BV(TXEN0) | _BV(RXCIE0);
  OCR0A = 124;
  TCCR0A = _BV(WGM01);
  TCCR0B = 4; /* 16 MHz / 256 / 125: 2 ms */
  TIMSK0 = _BV(OCIE0A);
  sei();
  set_sleep_mode(SLEEP_MODE_IDLE);
  for (;;) sleep_mode();
}
