/* What the host may ask for: bodies of frames to commands. Strict: what does not parse is nothing. */
#ifndef COMMAND_H
#define COMMAND_H

#include <stdbool.h>
#include <stdint.h>

enum ask { ASK_NOTHING, ASK_HELLO, ASK_LEASE, ASK_RESET_CUTOUT, ASK_FAULT };

struct command {
    enum ask ask;
    uint16_t n;  /* number of the command, 1 to 65535 */
    uint16_t re; /* number of the reading that it answers */
    uint16_t ms;
    char fault; /* test builds only: which fault to play */
};

/* Plain decimal digits up to 65535; false for anything else, an empty text and an overflow included. */
bool number_parse(const char *text, uint16_t *value);

/* Take a body apart (it is written to). Unknown word, missing key, key twice, field without `=`: ASK_NOTHING. */
void command_parse(char *body, struct command *c);

#endif
