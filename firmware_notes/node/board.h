/* The ATmega328P's pins, clock, converter, EEPROM and watchdog. Nothing here decides about heat. */
#ifndef BOARD_H
#define BOARD_H

#include "config.h"
#include "node.h"

#include <stdbool.h>
#include <stdint.h>

/* Pins: relay drive PB0 (high: on), contact feedback PD4 (high: voltage behind the contact), probes ADC0 ... ADC3. */

void board_start(void);

/* Why the chip was reset, saved before anything else ran. */
enum cause board_cause(void);

void board_relay(bool on);
bool board_feedback(void);

/* Milliseconds since boot, in steps of a tick. */
uint32_t board_ms(void);

/* Whether a tick has begun since this was last asked. */
bool board_ticked(void);

/* The conversions that the last tick started, one for each probe; false unless all are new. */
bool board_codes(uint16_t codes[PROBES]);

/* Sleep in idle mode until a tick, a byte or a set of conversions is waiting. */
void board_sleep(void);

/* Tell the watchdog that all is well. One caller: the end of a tick. */
void board_feed(void);

/* The cut-outs' bytes in EEPROM. A write is begun at once or, while another one goes on, not at all (false). */
void board_recall(uint8_t image[CUTOUT_IMAGE]);
bool board_keep(uint8_t at, uint8_t value);

#endif
