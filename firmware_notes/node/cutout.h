/* The latched cut-outs: one pattern a probe, the same in memory and in EEPROM. Only the exact pattern is "clear". */
#ifndef CUTOUT_H
#define CUTOUT_H

#include "config.h"

#include <stdbool.h>
#include <stdint.h>

#define CUTOUT_BYTES 4u
#define CUTOUT_IMAGE (PROBES * CUTOUT_BYTES)

struct cutout {
    uint8_t image[CUTOUT_IMAGE];
    uint8_t next;   /* the byte to compare with EEPROM next */
    uint8_t resets; /* done since boot */
};

/* Take over what EEPROM holds, whatever it is. */
void cutout_start(struct cutout *c, const uint8_t image[CUTOUT_IMAGE]);

bool cutout_is_latched(const struct cutout *c);

/* Latch a probe's cut-out, in memory; cutout_next() then begins with it. */
void cutout_latch(struct cutout *c, uint8_t probe);

/* Clear all of them, in memory; false when this boot has had its resets. */
bool cutout_reset(struct cutout *c);

/* The next byte to compare with EEPROM: its place, and what it has to be. Goes round for ever. */
uint8_t cutout_next(struct cutout *c, uint8_t *value);

#endif
