/* The portable part of the firmware as a program that the tests talk to, one line at a time; built with sanitizers. */
#include "check.h"
#include "node.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define LONGEST 4096

static struct node node;
static uint32_t now_ms;

void check_failed(void)
{
    fputs("check failed\n", stderr);
    abort();
}

static void say(const struct frame *f, bool good)
{
    printf("%.*s\n", good ? (int)f->length - 2 : 0, f->bytes);
}

static unsigned from_hex(const char *hex, uint8_t *bytes, unsigned most)
{
    unsigned used = 0, value = 0;
    for (; used < most && sscanf(hex + 2 * used, "%2x", &value) == 1; used++) {
        bytes[used] = (uint8_t)value;
    }
    return used;
}

static void boot(const char *hex)
{
    uint8_t image[CUTOUT_IMAGE] = {0};
    if (from_hex(hex, image, CUTOUT_IMAGE) != CUTOUT_IMAGE) {
        abort();
    }
    node_start(&node, CAUSE_RESET, image);
}

/* "codes COUNT C1 C2": that many ticks with these codes. */
static void codes(const char *text)
{
    unsigned count = 0, one = 0, two = 0;
    if (sscanf(text, "%u %u %u", &count, &one, &two) != 3) {
        abort();
    }
    for (; count > 0; count--) {
        const uint16_t both[PROBES] = {(uint16_t)one, (uint16_t)two};
        now_ms += TICK_MS;
        node_codes(&node, both, now_ms);
        (void)node_relay(&node, now_ms);
    }
}

static void bytes(const char *hex)
{
    uint8_t some[LONGEST];
    const unsigned used = from_hex(hex, some, sizeof some);
    for (unsigned i = 0; i < used; i++) {
        node_byte(&node, some[i], now_ms);
    }
}

static void state(void)
{
    printf("%d %d %u %u ", node_relay(&node, now_ms), cutout_is_latched(&node.cutout), node.ack, node.bad);
    for (unsigned i = 0; i < CUTOUT_IMAGE; i++) {
        printf("%02X", node.cutout.image[i]);
    }
    puts("");
}

static void talk(void)
{
    static char line[2 * LONGEST + 16];
    struct frame f;
    while (fgets(line, sizeof line, stdin) != NULL) {
        if (strncmp(line, "boot ", 5) == 0) {
            boot(line + 5);
        } else if (strncmp(line, "ms ", 3) == 0) {
            now_ms = (uint32_t)strtoul(line + 3, NULL, 10);
        } else if (strncmp(line, "n ", 2) == 0) {
            node.next_n = (uint16_t)strtoul(line + 2, NULL, 10);
        } else if (strncmp(line, "bad ", 4) == 0) {
            node.bad = (uint16_t)strtoul(line + 4, NULL, 10);
        } else if (strncmp(line, "codes ", 6) == 0) {
            codes(line + 6);
        } else if (strncmp(line, "bytes ", 6) == 0) {
            bytes(line + 6);
        } else if (strncmp(line, "reading", 7) == 0) {
            say(&f, node_reading(&node, &f, now_ms, false));
        } else if (strncmp(line, "hello", 5) == 0) {
            say(&f, node_hello(&node, &f));
        } else if (strncmp(line, "state", 5) == 0) {
            state();
        } else {
            abort();
        }
        fflush(stdout);
    }
}

/* Bodies of the frames in standard input, then how many lines were dropped. */
static void split(void)
{
    struct splitter s;
    unsigned long bad = 0;
    splitter_start(&s);
    for (int byte = getchar(); byte != EOF; byte = getchar()) {
        const enum split found = splitter_take(&s, (uint8_t)byte);
        bad += found == SPLIT_BAD;
        if (found == SPLIT_BODY) {
            puts(splitter_body(&s));
        }
    }
    printf("%lu\n", bad);
}

static void crc(const char *text)
{
    uint16_t sum = 0;
    for (; *text != '\0'; text++) {
        sum = frame_crc(sum, (uint8_t)*text);
    }
    printf("%04X\n", sum);
}

static void number(const char *text)
{
    uint16_t value = 0;
    if (number_parse(text, &value)) {
        printf("%u\n", value);
    } else {
        puts("no");
    }
}

int main(int count, char **words)
{
    if (count == 2 && strcmp(words[1], "talk") == 0) {
        talk();
    } else if (count == 2 && strcmp(words[1], "split") == 0) {
        split();
    } else if (count == 3 && strcmp(words[1], "crc") == 0) {
        crc(words[2]);
    } else if (count > 2 && strcmp(words[1], "numbers") == 0) {
        for (int i = 2; i < count; i++) {
            number(words[i]);
        }
    } else if (count > 2 && strcmp(words[1], "centi") == 0) {
        for (int i = 2; i < count; i++) { /* sums of 100 codes */
            printf("%d\n", probe_centi((uint32_t)strtoul(words[i], NULL, 10), 100));
        }
    } else {
        return 2;
    }
    return 0;
}
