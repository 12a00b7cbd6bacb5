#include "lease.h"

#include "check.h"
#include "config.h"

void lease_start(struct lease *l)
{
    CHECK(l != 0);
    l->since_ms = 0;
    l->ms = 0;
    l->known = 0;
    for (uint8_t i = 0; i < LEASE_RECENT; i++) {
        l->recent[i] = 0;
    }
}

void lease_reading(struct lease *l, uint16_t n)
{
    CHECK(l != 0);
    CHECK(l->known <= LEASE_RECENT);
    for (uint8_t i = LEASE_RECENT - 1u; i > 0u; i--) {
        l->recent[i] = l->recent[i - 1u];
    }
    l->recent[0] = n;
    if (l->known < LEASE_RECENT) {
        l->known++;
    }
}

static bool is_recent(const struct lease *l, uint16_t re)
{
    CHECK(l != 0);
    CHECK(l->known <= LEASE_RECENT);
    for (uint8_t i = 0; i < l->known; i++) {
        if (l->recent[i] == re) {
            return true;
        }
    }
    return false;
}

bool lease_grant(struct lease *l, uint16_t re, uint16_t ms, uint32_t now_ms)
{
    CHECK(l != 0);
    CHECK(l->ms <= MAX_LEASE_MS);
    if (ms > 0u && (ms > MAX_LEASE_MS || !is_recent(l, re))) {
        return false;
    }
    l->ms = ms;
    l->since_ms = now_ms;
    return true;
}

uint16_t lease_left(const struct lease *l, uint32_t now_ms)
{
    CHECK(l != 0);
    CHECK(l->ms <= MAX_LEASE_MS);
    const uint32_t gone = now_ms - l->since_ms; /* right across the clock's wrap */
    return gone >= l->ms ? 0u : (uint16_t)(l->ms - gone);
}

void lease_lapse(struct lease *l, uint32_t now_ms)
{
    CHECK(l != 0);
    if (lease_left(l, now_ms) == 0u) {
        l->ms = 0;
    }
    CHECK(l->ms <= MAX_LEASE_MS);
}

void lease_drop(struct lease *l)
{
    CHECK(l != 0);
    l->ms = 0;
    CHECK(l->ms == 0u);
}
