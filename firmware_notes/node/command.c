#include "command.h"

#include "check.h"
#include "frame.h"

#include <string.h>

#define MAX_FIELDS (FRAME_MAX / 2u)

enum { HAS_N = 1, HAS_RE = 2, HAS_MS = 4 };

bool number_parse(const char *text, uint16_t *value)
{
    CHECK(text != 0);
    CHECK(value != 0);
    uint32_t sum = 0;
    uint8_t i = 0;
    for (; i < FRAME_MAX && text[i] != '\0'; i++) {
        if (text[i] < '0' || text[i] > '9') {
            return false;
        }
        sum = 10u * sum + (uint32_t)(text[i] - '0');
        if (sum > 0xFFFFu) {
            return false;
        }
    }
    *value = (uint16_t)sum;
    return i > 0u;
}

/* Put an end to the part that begins at `text`; the beginning of the next part, or 0 after the last. */
static char *cut(char *text, char at)
{
    CHECK(text != 0);
    char *found = strchr(text, at);
    if (found == 0) {
        return 0;
    }
    *found = '\0';
    CHECK(found - text < (int)FRAME_MAX);
    return found + 1;
}

static bool take_field(struct command *c, const char *key, const char *value, uint8_t *has)
{
    CHECK(key != 0);
    CHECK(value != 0);
    uint16_t *into = 0;
    uint8_t bit = 0;
    if (strcmp(key, "n") == 0) {
        into = &c->n;
        bit = HAS_N;
    } else if (strcmp(key, "re") == 0) {
        into = &c->re;
        bit = HAS_RE;
    } else if (strcmp(key, "ms") == 0) {
        into = &c->ms;
        bit = HAS_MS;
    } else {
        return true; /* unknown keys are ignored */
    }
    *has |= bit;
    return number_parse(value, into);
}

/* Whether a key comes again among the fields that follow, which are not yet cut apart. */
static bool comes_again(const char *key, const char *rest)
{
    CHECK(key != 0);
    const size_t length = strlen(key);
    CHECK(length < FRAME_MAX);
    for (uint8_t i = 0; i < MAX_FIELDS && rest != 0; i++) {
        if (strncmp(rest, key, length) == 0 && rest[length] == '=') {
            return true;
        }
        rest = strchr(rest, ' ');
        rest = rest == 0 ? 0 : rest + 1;
    }
    return false;
}

static bool take_fields(struct command *c, char *rest, uint8_t *has)
{
    CHECK(c != 0);
    CHECK(has != 0);
    for (uint8_t i = 0; i < MAX_FIELDS && rest != 0; i++) {
        char *key = rest;
        rest = cut(key, ' ');
        const char *value = cut(key, '=');
        if (value == 0 || key[0] == '\0' || comes_again(key, rest) || !take_field(c, key, value, has)) {
            return false;
        }
    }
    return rest == 0;
}

static enum ask asked(const char *word, const struct command *c, uint8_t has)
{
    CHECK(word != 0);
    CHECK(has <= (HAS_N | HAS_RE | HAS_MS));
    if (strcmp(word, "hello?") == 0) {
        return ASK_HELLO;
    }
    if (strcmp(word, "lease") == 0 && has == (HAS_N | HAS_RE | HAS_MS) && c->n > 0u) {
        return ASK_LEASE;
    }
    if (strcmp(word, "reset-cutout") == 0 && (has & HAS_N) != 0u && c->n > 0u) {
        return ASK_RESET_CUTOUT;
    }
#ifdef TEST_FAULTS
    if (strncmp(word, "fault-", 6) == 0) {
        return ASK_FAULT;
    }
#endif
    return ASK_NOTHING;
}

void command_parse(char *body, struct command *c)
{
    CHECK(body != 0);
    CHECK(c != 0);
    *c = (struct command){ASK_NOTHING, 0, 0, 0, '\0'};
    uint8_t has = 0;
    if (take_fields(c, cut(body, ' '), &has)) {
        c->ask = asked(body, c, has);
        c->fault = c->ask == ASK_FAULT ? body[6] : '\0';
    }
}
