/* The innermost loop around the emulator, and its converter's inputs: in C because both run thousands of times a
 * simulated second. It is given the emulator's functions as pointers and knows nothing of its structures. */
#include <stdint.h>

#define NOISES 65536u
#define CODES 1024

struct inputs {
    void (*raise)(void *irq, uint32_t value);
    void *irq[8];
    double codes[8]; /* what a converter without steps would say */
    double noise[NOISES];
    uint32_t millivolts[CODES];
    uint64_t conversions;
};

/* A conversion begins on the channel in `value`: put its own noise on the input. */
void converting(void *irq, uint32_t value, void *param)
{
    struct inputs *in = param;
    const uint32_t channel = (value >> 19) & 7u;
    int code = (int)(in->codes[channel] + in->noise[in->conversions % NOISES]);
    code = code < 0 ? 0 : code > CODES - 1 ? CODES - 1 : code;
    in->conversions++;
    in->raise(in->irq[channel], in->millivolts[code]);
    (void)irq;
}

uint64_t arrive(void *avr, uint64_t when, void *param)
{
    *(volatile int *)param = 1;
    (void)avr;
    (void)when;
    return 0;
}

uint64_t slept; /* cycles, of all chips of this process */

/* What the emulator calls in place of sleeping in real time. */
void asleep(void *avr, uint64_t cycles)
{
    slept += cycles + 1u;
    (void)avr;
}

/* Run until the timer has set `there`; 1 when the firmware has stopped. A reset drops the timer: look at the cycle. */
int run_until(int (*run)(void *avr), void *avr, const volatile int *there, const volatile uint64_t *cycle, uint64_t goal)
{
    for (unsigned calls = 1; !*there; calls++) {
        if (run(avr) >= 6) {
            return 1;
        }
        if (calls % 64u == 0u && *cycle >= goal) {
            break;
        }
    }
    return 0;
}
