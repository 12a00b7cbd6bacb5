/* The node without its hardware: what docs/node-protocol.md asks of it, on a clock that the caller tells. */
#ifndef NODE_H
#define NODE_H

#include "command.h"
#include "config.h"
#include "cutout.h"
#include "frame.h"
#include "lease.h"
#include "probe.h"

#include <stdbool.h>
#include <stdint.h>

enum cause { CAUSE_POWER, CAUSE_WATCHDOG, CAUSE_BROWNOUT, CAUSE_RESET };

struct node {
    struct splitter in;
    struct lease lease;
    struct cutout cutout;
    struct probe probes[PROBES];
    enum cause cause;
    uint16_t next_n; /* number of the next reading */
    uint16_t ack;
    uint16_t bad;
    bool say_hello; /* a hello is due */
    char fault;     /* test builds only */
};

/* Boot. `image` is what the EEPROM holds about the cut-outs. */
void node_start(struct node *n, enum cause cause, const uint8_t image[CUTOUT_IMAGE]);

/* Whether the relay may be on at this moment. Ask after every event, and at every tick. */
bool node_relay(struct node *n, uint32_t now_ms);

/* Take a conversion of each fitted probe; true when a probe has a new mean, and the relay is to be looked at. */
bool node_codes(struct node *n, const uint16_t codes[PROBES], uint32_t now_ms);

/* Take a byte from the host; its command, if that ends one, is obeyed or counted. */
void node_byte(struct node *n, uint8_t byte, uint32_t now_ms);

/* Bytes from the host were lost. */
void node_lost(struct node *n);

/* Write what is to be sent; false when it must not be sent. */
bool node_hello(const struct node *n, struct frame *f);
bool node_reading(struct node *n, struct frame *f, uint32_t now_ms, bool feedback);

#endif
