/* The main loop: sleep, take bytes and conversions, and at each tick look at everything that takes the relay off. */
#include "board.h"
#include "check.h"
#include "node.h"
#include "uart.h"

#include <avr/interrupt.h>
#include <avr/io.h>

#define BYTES_AT_ONCE 128u

static struct node node;
static struct frame frame;
static uint32_t now_ms; /* the clock at the last tick */
static uint32_t read_at_ms = TICK_MS; /* a tick late: then a mean has just become whole */

static void drive_relay(void)
{
    board_relay(node_relay(&node, now_ms));
}

#ifdef TEST_FAULTS
static void play_fault(void)
{
    if (node.fault == 'h') { /* a hang, interrupts and all going on */
        for (;;) {
        }
    }
    if (node.fault == 'i') { /* a hang with the interrupts off */
        cli();
        for (;;) {
        }
    }
    CHECK(node.fault != 'c'); /* a failed assertion */
    if (node.fault == 'a') { /* the converter stops */
        ADCSRA = 0;
    }
    node.fault = '\0';
}
#endif

static void take_bytes(void)
{
    uint8_t byte = 0;
    CHECK(node.in.length <= FRAME_LINE);
    if (uart_lost()) {
        node_lost(&node);
    }
    for (uint8_t i = 0; i < BYTES_AT_ONCE && uart_take(&byte); i++) {
        node_byte(&node, byte, now_ms);
        if (byte == '\n') {
            drive_relay();
        }
    }
    CHECK(node.in.length <= FRAME_LINE);
#ifdef TEST_FAULTS
    play_fault();
#endif
}

static void take_codes(void)
{
    uint16_t codes[PROBES];
    if (board_codes(codes) && node_codes(&node, codes, now_ms)) {
        drive_relay();
    }
}

static void say(void)
{
    CHECK(now_ms - read_at_ms < 2u * READING_MS);
    if (node.say_hello && node_hello(&node, &frame)) {
        node.say_hello = !uart_send(&frame); /* no room: at the next tick */
    }
    if (now_ms - read_at_ms >= READING_MS) {
        read_at_ms += READING_MS;
        CHECK(now_ms - read_at_ms < READING_MS);
        if (node_reading(&node, &frame, now_ms, board_feedback())) {
            (void)uart_send(&frame); /* no room: this reading is lost, the next has its own number */
        }
    }
}

static void tick(void)
{
    uint8_t value = 0;
    const uint32_t before_ms = now_ms;
    now_ms = board_ms();
    CHECK(now_ms - before_ms < READING_MS); /* forward, and not by far: the watchdog would have bitten */
    drive_relay(); /* lease run out, conversion too old, latch: off first ... */
    const uint8_t at = cutout_next(&node.cutout, &value);
    if (!board_keep(at, value)) { /* ... then the latch is written */
        node.cutout.next = at;
    }
    say();
    CHECK(board_ms() - now_ms < READING_MS); /* the tick has not taken for ever */
    board_feed(); /* here and nowhere else */
}

int main(void)
{
    uint8_t image[CUTOUT_IMAGE];
    board_start();
    uart_start();
    board_recall(image);
    node_start(&node, board_cause(), image);
    sei();
    for (;;) {
        board_sleep();
        if (board_ticked()) {
            tick();
        }
        take_bytes();
        take_codes();
    }
}
