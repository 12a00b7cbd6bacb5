#include "board.h"

#include "check.h"
#include "uart.h"

#include <avr/eeprom.h>
#include <avr/interrupt.h>
#include <avr/io.h>
#include <avr/power.h>
#include <avr/sleep.h>
#include <avr/wdt.h>
#include <util/atomic.h>

#define TICK_COUNTS (F_CPU / 8u / 1000u * TICK_MS)
#define RELAY PB0
#define FEEDBACK PD4

_Static_assert(TICK_COUNTS <= 65536u, "a tick has to fit timer 1");

static uint8_t mcusr_at_reset __attribute__((section(".noinit")));
static volatile uint32_t ms_since_boot;
static volatile bool tick_waits;
static volatile uint16_t code_of[PROBES];
static volatile uint8_t codes_done;
static uint8_t EEMEM kept[CUTOUT_IMAGE];

/* The first instructions after reset: relay pin low, then output, before there is so much as a stack. */
static void relay_off_first(void) __attribute__((naked, used, section(".init0")));
static void relay_off_first(void)
{
    __asm__ volatile("cbi %0, %1\n\tsbi %2, %1" ::"I"(_SFR_IO_ADDR(PORTB)), "I"(RELAY), "I"(_SFR_IO_ADDR(DDRB)));
}

/* A watchdog that has bitten stays on at its shortest time: save the cause, clear it, and set our own time. */
static void watchdog_first(void) __attribute__((naked, used, section(".init3")));
static void watchdog_first(void)
{
    mcusr_at_reset = MCUSR;
    MCUSR = 0;
    wdt_enable(WDTO_500MS);
}

void check_failed(void)
{
    cli();
    PORTB &= (uint8_t)~_BV(RELAY);
    for (;;) { /* until the watchdog bites: the one loop without a bound but main's */
    }
}

enum cause board_cause(void)
{
    if (mcusr_at_reset & _BV(PORF)) {
        return CAUSE_POWER;
    }
    if (mcusr_at_reset & _BV(BORF)) {
        return CAUSE_BROWNOUT;
    }
    return (mcusr_at_reset & _BV(WDRF)) ? CAUSE_WATCHDOG : CAUSE_RESET;
}

static void converter_start(void)
{
    CHECK(PROBES <= MAX_PROBES);
    DIDR0 = (uint8_t)(_BV(PROBES) - 1u); /* no digital input on the probes' pins */
    ADMUX = _BV(REFS0);                  /* reference: the supply, which also feeds the dividers */
    ADCSRA = _BV(ADEN) | _BV(ADIE) | _BV(ADPS2) | _BV(ADPS1) | _BV(ADPS0); /* 125 kHz */
}

void board_start(void)
{
    CHECK((PORTB & _BV(RELAY)) == 0u);
    CHECK((DDRB & _BV(RELAY)) != 0u);
    power_spi_disable();
    power_twi_disable();
    power_timer0_disable();
    power_timer2_disable();
    OCR1A = (uint16_t)(TICK_COUNTS - 1u);
    TCCR1B = _BV(WGM12) | _BV(CS11);
    TIMSK1 = _BV(OCIE1A);
    converter_start();
    set_sleep_mode(SLEEP_MODE_IDLE);
    sleep_enable();
}

ISR(TIMER1_COMPA_vect)
{
    ms_since_boot += TICK_MS;
    tick_waits = true;
    if ((ADCSRA & _BV(ADSC)) == 0u) {
        codes_done = 0;
        ADMUX = _BV(REFS0);
        ADCSRA |= _BV(ADSC);
    }
}

ISR(ADC_vect)
{
    const uint8_t done = codes_done;
    if (done < PROBES) {
        code_of[done] = ADC;
        codes_done = (uint8_t)(done + 1u);
    }
    if (done + 1u < PROBES) {
        ADMUX = (uint8_t)(_BV(REFS0) | (done + 1u));
        ADCSRA |= _BV(ADSC);
    }
}

void board_relay(bool on)
{
    CHECK((DDRB & _BV(RELAY)) != 0u);
    if (on) {
        PORTB |= _BV(RELAY);
    } else {
        PORTB &= (uint8_t)~_BV(RELAY);
    }
    CHECK(((PORTB & _BV(RELAY)) != 0u) == on);
}

bool board_feedback(void)
{
    return (PIND & _BV(FEEDBACK)) != 0u;
}

uint32_t board_ms(void)
{
    uint32_t now = 0;
    ATOMIC_BLOCK(ATOMIC_RESTORESTATE)
    {
        now = ms_since_boot;
    }
    return now;
}

bool board_ticked(void)
{
    const bool ticked = tick_waits; /* one byte; a tick between the two lines is only told together with this one */
    tick_waits = false;
    return ticked;
}

bool board_codes(uint16_t codes[PROBES])
{
    CHECK(codes != 0);
    if (codes_done != PROBES) {
        return false;
    }
    ATOMIC_BLOCK(ATOMIC_RESTORESTATE)
    {
        for (uint8_t i = 0; i < PROBES; i++) {
            codes[i] = code_of[i];
        }
        codes_done = PROBES + 1u; /* taken */
    }
    CHECK(codes[0] < CODES);
    return true;
}

void board_sleep(void)
{
    /* An interrupt between the question and the sleep is found at the next one, a tick later at most. The loop has no
     * count: a tick that never comes is for the watchdog to end. */
    while (!tick_waits && codes_done != PROBES && !uart_waiting()) {
        sleep_cpu();
    }
}

void board_feed(void)
{
    wdt_reset();
}

void board_recall(uint8_t image[CUTOUT_IMAGE])
{
    CHECK(image != 0);
    for (uint8_t i = 0; i < CUTOUT_IMAGE; i++) {
        image[i] = eeprom_read_byte(&kept[i]);
    }
}

bool board_keep(uint8_t at, uint8_t value)
{
    CHECK(at < CUTOUT_IMAGE);
    CHECK((SPMCSR & _BV(SELFPRGEN)) == 0u); /* EEPROM can't be written while flash is */
    if (!eeprom_is_ready()) {
        return false;
    }
    if (eeprom_read_byte(&kept[at]) != value) {
        eeprom_write_byte(&kept[at], value); /* begins and returns: 3.4 ms are not waited for */
    }
    return true;
}
