#include "frame.h"

#include "check.h"

#ifdef __AVR__
#include <util/crc16.h>
#endif

#define U32_DIGITS 10u

uint16_t frame_crc(uint16_t crc, uint8_t byte)
{
#ifdef __AVR__
    return _crc_xmodem_update(crc, byte);
#else
    crc ^= (uint16_t)(byte << 8);
    for (uint8_t bit = 0; bit < 8u; bit++) {
        crc = (crc & 0x8000u) ? (uint16_t)((crc << 1) ^ 0x1021u) : (uint16_t)(crc << 1);
    }
    return crc;
#endif
}

static char hex_digit(uint16_t value)
{
    return "0123456789ABCDEF"[value & 15u];
}

static bool crc_matches(const char *digits, uint16_t crc)
{
    CHECK(digits != 0);
    CHECK(digits[-1] == '*');
    for (uint8_t i = 0; i < 4u; i++) {
        if (digits[i] != hex_digit((uint16_t)(crc >> (12u - 4u * i)))) {
            return false;
        }
    }
    return true;
}

void splitter_start(struct splitter *s)
{
    CHECK(s != 0);
    s->length = 0;
    s->drop = false;
    s->line[0] = '\0';
}

char *splitter_body(struct splitter *s)
{
    CHECK(s != 0);
    CHECK(s->line[0] == '$');
    return s->line + 1;
}

void splitter_lost(struct splitter *s)
{
    CHECK(s != 0);
    CHECK(s->length <= FRAME_LINE);
    s->drop = true;
}

/* Whether the line is a whole frame; if so, put an end to its body. */
static bool is_frame(struct splitter *s)
{
    uint8_t length = s->length;
    CHECK(length <= FRAME_LINE);
    if (length > 0u && s->line[length - 1u] == '\r') {
        length--;
    }
    if (length < 7u || s->line[0] != '$' || s->line[length - 5u] != '*') {
        return false;
    }
    const uint8_t star = (uint8_t)(length - 5u);
    CHECK(star >= 2u && star < FRAME_LINE);
    uint16_t crc = 0;
    for (uint8_t i = 1; i < star; i++) {
        const char c = s->line[i];
        if (c < ' ' || c > '~' || c == '$' || c == '*') {
            return false;
        }
        crc = frame_crc(crc, (uint8_t)c);
    }
    if (!crc_matches(&s->line[star + 1u], crc)) {
        return false;
    }
    s->line[star] = '\0';
    return true;
}

enum split splitter_take(struct splitter *s, uint8_t byte)
{
    CHECK(s != 0);
    CHECK(s->length <= FRAME_LINE);
    if (byte == '\n') {
        const bool whole = !s->drop && is_frame(s);
        s->length = 0;
        s->drop = false;
        return whole ? SPLIT_BODY : SPLIT_BAD;
    }
    if (s->drop || s->length == FRAME_LINE) {
        s->drop = true;
        return SPLIT_MORE;
    }
    s->line[s->length] = (char)byte;
    s->length++;
    return SPLIT_MORE;
}

static void put(struct frame *f, char c)
{
    CHECK(f != 0);
    CHECK(f->length <= FRAME_MAX);
    if (f->length + FRAME_TAIL >= FRAME_MAX) {
        f->spoilt = true;
        return;
    }
    f->bytes[f->length] = c;
    f->length++;
}

static void put_string(struct frame *f, const char *text)
{
    CHECK(text != 0);
    for (uint8_t i = 0; i < FRAME_MAX && text[i] != '\0'; i++) {
        put(f, text[i]);
    }
}

static void put_key(struct frame *f, const char *key)
{
    put(f, ' ');
    put_string(f, key);
    put(f, '=');
}

static void put_count(struct frame *f, uint32_t value)
{
    char digits[U32_DIGITS];
    uint8_t used = 0;
    do {
        CHECK(used < U32_DIGITS);
        digits[used] = (char)('0' + value % 10u);
        value /= 10u;
        used++;
    } while (value > 0u);
    CHECK(used > 0u);
    for (; used > 0u; used--) {
        put(f, digits[used - 1u]);
    }
}

void frame_start(struct frame *f, const char *word)
{
    CHECK(f != 0);
    CHECK(word != 0);
    f->length = 0;
    f->spoilt = false;
    put(f, '$');
    put_string(f, word);
}

void frame_text(struct frame *f, const char *key, const char *value)
{
    CHECK(f != 0);
    CHECK(value != 0);
    put_key(f, key);
    put_string(f, value);
}

void frame_count(struct frame *f, const char *key, uint32_t value)
{
    CHECK(f != 0);
    CHECK(key != 0);
    put_key(f, key);
    put_count(f, value);
}

void frame_centi(struct frame *f, const char *key, int32_t centi)
{
    CHECK(f != 0);
    CHECK(centi > -1000000 && centi < 1000000);
    put_key(f, key);
    if (centi < 0) {
        put(f, '-');
        centi = -centi;
    }
    put_count(f, (uint32_t)centi / 100u);
    put(f, '.');
    put(f, (char)('0' + (centi / 10) % 10));
    put(f, (char)('0' + centi % 10));
}

bool frame_end(struct frame *f)
{
    CHECK(f != 0);
    CHECK(f->length + FRAME_TAIL <= FRAME_MAX);
    uint16_t crc = 0;
    for (uint8_t i = 1; i < f->length; i++) {
        crc = frame_crc(crc, (uint8_t)f->bytes[i]);
    }
    f->bytes[f->length++] = '*';
    for (uint8_t i = 0; i < 4u; i++) {
        f->bytes[f->length++] = hex_digit((uint16_t)(crc >> (12u - 4u * i)));
    }
    f->bytes[f->length++] = '\r';
    f->bytes[f->length++] = '\n';
    return !f->spoilt;
}
