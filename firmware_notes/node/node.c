#include "node.h"

#include "check.h"

static const int16_t limits[PROBES] = CUTOUTS_CENTI;

_Static_assert(PROBES >= 1u && PROBES <= MAX_PROBES, "one to four probes");
_Static_assert(MAX_LEASE_MS >= 1u && MAX_LEASE_MS <= 5000u, "the protocol's longest lease is 5 s");
_Static_assert(SAMPLES >= 64u && SAMPLES <= 255u, "at least 64-fold, counted in a byte");

void node_start(struct node *n, enum cause cause, const uint8_t image[CUTOUT_IMAGE])
{
    CHECK(n != 0);
    CHECK(cause <= CAUSE_RESET);
    splitter_start(&n->in);
    lease_start(&n->lease);
    cutout_start(&n->cutout, image);
    for (uint8_t i = 0; i < PROBES; i++) {
        probe_start(&n->probes[i]);
    }
    n->cause = cause;
    n->next_n = 0;
    n->ack = 0;
    n->bad = 0;
    n->say_hello = true;
    n->fault = '\0';
}

static bool all_valid(const struct node *n, uint32_t now_ms)
{
    CHECK(n != 0);
    CHECK(n->cause <= CAUSE_RESET);
    for (uint8_t i = 0; i < PROBES; i++) {
        if (probe_state(&n->probes[i], now_ms) != PROBE_OK) {
            return false;
        }
    }
    return true;
}

bool node_relay(struct node *n, uint32_t now_ms)
{
    CHECK(n != 0);
    CHECK(n->cause <= CAUSE_RESET);
    lease_lapse(&n->lease, now_ms);
    return lease_left(&n->lease, now_ms) > 0u && all_valid(n, now_ms) && !cutout_is_latched(&n->cutout);
}

bool node_codes(struct node *n, const uint16_t codes[PROBES], uint32_t now_ms)
{
    CHECK(n != 0);
    CHECK(codes != 0);
    bool news = false;
    for (uint8_t i = 0; i < PROBES; i++) {
        if (probe_code(&n->probes[i], codes[i], now_ms)) {
            news = true;
            if (probe_reaches(&n->probes[i], limits[i])) {
                cutout_latch(&n->cutout, i);
            }
        }
    }
    return news;
}

/* Every fitted probe valid, and those with a limit well under it. */
static bool is_cool(const struct node *n, uint32_t now_ms)
{
    CHECK(n != 0);
    CHECK(n->cutout.resets <= RESETS_PER_BOOT);
    if (!all_valid(n, now_ms)) {
        return false;
    }
    for (uint8_t i = 0; i < PROBES; i++) {
        if (limits[i] != NO_CUTOUT && n->probes[i].centi > limits[i] - RESET_MARGIN_CENTI) {
            return false;
        }
    }
    return true;
}

static bool obey(struct node *n, const struct command *c, uint32_t now_ms)
{
    CHECK(n != 0);
    CHECK(c != 0);
    switch (c->ask) {
    case ASK_HELLO:
        n->say_hello = true;
        return true;
    case ASK_LEASE:
        if (!lease_grant(&n->lease, c->re, c->ms, now_ms)) {
            return false;
        }
        n->ack = c->n;
        return true;
    case ASK_RESET_CUTOUT:
        if (!is_cool(n, now_ms) || !cutout_reset(&n->cutout)) {
            return false;
        }
        lease_drop(&n->lease);
        n->ack = c->n;
        return true;
    case ASK_FAULT:
        n->fault = c->fault;
        return true;
    case ASK_NOTHING:
    default:
        return false;
    }
}

void node_byte(struct node *n, uint8_t byte, uint32_t now_ms)
{
    CHECK(n != 0);
    CHECK(n->cause <= CAUSE_RESET);
    const enum split found = splitter_take(&n->in, byte);
    if (found == SPLIT_MORE) {
        return;
    }
    struct command c;
    bool obeyed = false;
    if (found == SPLIT_BODY) {
        command_parse(splitter_body(&n->in), &c);
        obeyed = obey(n, &c, now_ms);
    }
    if (!obeyed) {
        n->bad++; /* wraps, as the protocol says */
    }
}

void node_lost(struct node *n)
{
    CHECK(n != 0);
    splitter_lost(&n->in);
    CHECK(n->in.drop);
}

static const char *temp_key(uint8_t i)
{
    static const char *const keys[MAX_PROBES] = {"t1", "t2", "t3", "t4"};
    CHECK(i < MAX_PROBES);
    return keys[i];
}

static const char *limit_key(uint8_t i)
{
    static const char *const keys[MAX_PROBES] = {"cut1", "cut2", "cut3", "cut4"};
    CHECK(i < MAX_PROBES);
    return keys[i];
}

static const char *fault_word(enum probe_state state)
{
    CHECK(state != PROBE_OK);
    CHECK(state <= PROBE_RANGE);
    if (state == PROBE_OPEN) {
        return "open";
    }
    return state == PROBE_SHORT ? "short" : "range";
}

bool node_hello(const struct node *n, struct frame *f)
{
    static const char *const causes[] = {"power", "watchdog", "brownout", "reset"};
    CHECK(n != 0);
    CHECK(n->cause <= CAUSE_RESET);
    frame_start(f, "hello");
    frame_count(f, "proto", 1);
    frame_text(f, "fw", FIRMWARE);
    frame_count(f, "probes", PROBES);
    frame_count(f, "maxlease", MAX_LEASE_MS);
    for (uint8_t i = 0; i < PROBES; i++) {
        if (limits[i] == NO_CUTOUT) {
            frame_text(f, limit_key(i), "none");
        } else {
            frame_centi(f, limit_key(i), limits[i]);
        }
    }
    frame_text(f, "cause", causes[n->cause]);
    return frame_end(f);
}

static void put_temps(const struct node *n, struct frame *f, uint32_t now_ms)
{
    CHECK(n != 0);
    CHECK(f != 0);
    uint32_t oldest = 0;
    for (uint8_t i = 0; i < PROBES; i++) {
        const struct probe *p = &n->probes[i];
        const enum probe_state state = probe_state(p, now_ms);
        if (state == PROBE_OK) {
            frame_centi(f, temp_key(i), p->centi);
        } else {
            frame_text(f, temp_key(i), fault_word(state));
        }
        oldest = probe_age(p, now_ms) > oldest ? probe_age(p, now_ms) : oldest;
    }
    frame_count(f, "age", oldest);
}

bool node_reading(struct node *n, struct frame *f, uint32_t now_ms, bool feedback)
{
    CHECK(n != 0);
    CHECK(f != 0);
    frame_start(f, "r");
    frame_count(f, "n", n->next_n);
    frame_count(f, "up", now_ms);
    put_temps(n, f, now_ms);
    frame_count(f, "relay", node_relay(n, now_ms) ? 1u : 0u);
    frame_count(f, "left", lease_left(&n->lease, now_ms));
    frame_count(f, "ack", n->ack);
    frame_count(f, "bad", n->bad);
    frame_count(f, "cut", cutout_is_latched(&n->cutout) ? 1u : 0u);
    frame_count(f, "fb", feedback ? 1u : 0u);
    lease_reading(&n->lease, n->next_n);
    n->next_n++; /* 65535 is followed by 0 */
    return frame_end(f);
}
