#include "cutout.h"

#include "check.h"

/* Any four bytes a probe would do but those that memory falls into by itself: 00 and FF. */
static const uint8_t clear[MAX_PROBES * CUTOUT_BYTES] = {
    0x6B, 0xD4, 0x2E, 0x91, 0x6A, 0xD5, 0x2F, 0x90, 0x69, 0xD6, 0x2C, 0x93, 0x68, 0xD7, 0x2D, 0x92,
};

void cutout_start(struct cutout *c, const uint8_t image[CUTOUT_IMAGE])
{
    CHECK(c != 0);
    CHECK(image != 0);
    for (uint8_t i = 0; i < CUTOUT_IMAGE; i++) {
        c->image[i] = image[i];
    }
    c->next = 0;
    c->resets = 0;
}

bool cutout_is_latched(const struct cutout *c)
{
    CHECK(c != 0);
    CHECK(c->next < CUTOUT_IMAGE);
    for (uint8_t i = 0; i < CUTOUT_IMAGE; i++) {
        if (c->image[i] != clear[i]) {
            return true;
        }
    }
    return false;
}

void cutout_latch(struct cutout *c, uint8_t probe)
{
    CHECK(c != 0);
    CHECK(probe < PROBES);
    const uint8_t first = (uint8_t)(probe * CUTOUT_BYTES);
    if (c->image[first] == 0u) {
        return; /* latched already: leave the round of comparing alone */
    }
    for (uint8_t i = 0; i < CUTOUT_BYTES; i++) {
        c->image[first + i] = 0;
    }
    c->next = first;
}

bool cutout_reset(struct cutout *c)
{
    CHECK(c != 0);
    CHECK(c->resets <= RESETS_PER_BOOT);
    if (c->resets == RESETS_PER_BOOT) {
        return false;
    }
    c->resets++;
    for (uint8_t i = 0; i < CUTOUT_IMAGE; i++) {
        c->image[i] = clear[i];
    }
    c->next = 0;
    return true;
}

uint8_t cutout_next(struct cutout *c, uint8_t *value)
{
    CHECK(c != 0);
    CHECK(c->next < CUTOUT_IMAGE);
    const uint8_t at = c->next;
    *value = c->image[at];
    c->next = (uint8_t)((at + 1u) % CUTOUT_IMAGE);
    return at;
}
