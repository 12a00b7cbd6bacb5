#include "probe.h"

#include "check.h"
#include "config.h"

#include <math.h>

#define ZERO_C 273.15f
#define MOST_CENTI 30000.0f

int16_t probe_centi(uint32_t sum, uint8_t count)
{
    CHECK(count > 0u);
    const uint32_t full = (uint32_t)count * CODES;
    CHECK(sum > 0u && sum < full);
    const float ohm = SERIES_OHM * (float)sum / (float)(full - sum);
    const float ln = logf(ohm);
    const float kelvin = 1.0f / (STEINHART_A + ln * (STEINHART_B + STEINHART_C * ln * ln));
    const float centi = 100.0f * (kelvin - ZERO_C);
    CHECK(centi > -MOST_CENTI); /* a NaN fails here too */
    if (centi > MOST_CENTI) {
        return (int16_t)MOST_CENTI;
    }
    return (int16_t)(centi < 0.0f ? centi - 0.5f : centi + 0.5f);
}

void probe_start(struct probe *p)
{
    CHECK(p != 0);
    *p = (struct probe){0};
    p->state = PROBE_RANGE; /* until there is a whole mean */
    p->centi = COLDEST_CENTI;
}

static void begin_mean(struct probe *p)
{
    CHECK(p != 0);
    p->sum = 0;
    p->count = 0;
    p->open = 0;
    p->shorted = 0;
}

static enum probe_state judge(struct probe *p)
{
    CHECK(p->count > 0u);
    CHECK(p->open <= p->count && p->shorted <= p->count);
    if (p->open > 0u) {
        return PROBE_OPEN;
    }
    if (p->shorted > 0u) {
        return PROBE_SHORT;
    }
    p->centi = probe_centi(p->sum, p->count);
    return p->centi < COLDEST_CENTI || p->centi > HOTTEST_CENTI ? PROBE_RANGE : PROBE_OK;
}

bool probe_code(struct probe *p, uint16_t code, uint32_t now_ms)
{
    CHECK(p != 0);
    CHECK(code < CODES);
    CHECK(p->count < SAMPLES);
    if (p->count == 0u) {
        p->begun_ms = now_ms;
    }
    p->sum += code;
    p->count++;
    p->open = (uint8_t)(p->open + (code >= OPEN_CODE));
    p->shorted = (uint8_t)(p->shorted + (code <= SHORT_CODE));
    if (p->count < SAMPLES && p->open < BAD_AT_ONCE && p->shorted < BAD_AT_ONCE) {
        return false;
    }
    p->state = judge(p);
    p->since_ms = p->begun_ms;
    begin_mean(p);
    return true;
}

uint32_t probe_age(const struct probe *p, uint32_t now_ms)
{
    CHECK(p != 0);
    return now_ms - p->since_ms;
}

enum probe_state probe_state(const struct probe *p, uint32_t now_ms)
{
    CHECK(p != 0);
    CHECK(p->state <= PROBE_RANGE);
    if (p->state == PROBE_OK && probe_age(p, now_ms) > OLDEST_MS) {
        return PROBE_RANGE;
    }
    return p->state;
}

bool probe_reaches(const struct probe *p, int16_t limit_centi)
{
    CHECK(p != 0);
    CHECK(p->state <= PROBE_RANGE);
    const bool known = p->state == PROBE_OK || p->state == PROBE_RANGE;
    return known && limit_centi != NO_CUTOUT && p->centi >= limit_centi;
}
