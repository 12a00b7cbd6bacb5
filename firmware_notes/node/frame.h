/* Frames of the node's line protocol: `$` body `*` CRC CR LF, at most 160 bytes (docs/node-protocol.md). */
#ifndef FRAME_H
#define FRAME_H

#include <stdbool.h>
#include <stdint.h>

#define FRAME_MAX 160u
#define FRAME_LINE (FRAME_MAX - 1u) /* without its LF */
#define FRAME_TAIL 7u               /* `*`, four digits, CR LF */

/* Cuts a stream of bytes into bodies of valid frames. Never holds more than one line. */
struct splitter {
    char line[FRAME_LINE + 1u];
    uint8_t length;
    bool drop; /* the line is spoilt: wait for its LF */
};

enum split { SPLIT_MORE, SPLIT_BODY, SPLIT_BAD };

/* A frame being written. */
struct frame {
    char bytes[FRAME_MAX];
    uint8_t length;
    bool spoilt; /* something did not fit */
};

/* CRC-16/XMODEM after one more byte; starts from 0. */
uint16_t frame_crc(uint16_t crc, uint8_t byte);

void splitter_start(struct splitter *s);

/* Take one byte. SPLIT_BODY: a frame is whole and its body, a string, is at splitter_body() until the next byte.
 * SPLIT_BAD: a line was dropped. */
enum split splitter_take(struct splitter *s, uint8_t byte);
char *splitter_body(struct splitter *s);

/* Bytes were lost: drop what comes up to the next LF. */
void splitter_lost(struct splitter *s);

void frame_start(struct frame *f, const char *word);
void frame_text(struct frame *f, const char *key, const char *value);
void frame_count(struct frame *f, const char *key, uint32_t value);
/* Hundredths, written with two decimals. */
void frame_centi(struct frame *f, const char *key, int32_t centi);
/* Close the frame; false when it did not fit and must not be sent. */
bool frame_end(struct frame *f);

#endif
