/* The relay's lease: how long it may still be on, and which readings a lease may answer. */
#ifndef LEASE_H
#define LEASE_H

#include <stdbool.h>
#include <stdint.h>

#define LEASE_RECENT 3u

struct lease {
    uint32_t since_ms; /* when it was granted */
    uint16_t ms;       /* for how long; 0: none */
    uint16_t recent[LEASE_RECENT];
    uint8_t known; /* how many of `recent` are of this boot */
};

void lease_start(struct lease *l);

/* Reading `n` goes out. */
void lease_reading(struct lease *l, uint16_t n);

/* Grant `ms` from `now_ms` in answer to reading `re`; false when refused, and nothing has changed. */
bool lease_grant(struct lease *l, uint16_t re, uint16_t ms, uint32_t now_ms);

/* Forget a lease that has run out. Call it at least every tick, long before the clock has gone round once. */
void lease_lapse(struct lease *l, uint32_t now_ms);
void lease_drop(struct lease *l);

/* What is left, ms. The clock may wrap in between. */
uint16_t lease_left(const struct lease *l, uint32_t now_ms);

#endif
