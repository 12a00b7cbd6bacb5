/* Assertions that stay in: a failed one takes the relay off and leaves the node to its hardware watchdog. */
#ifndef CHECK_H
#define CHECK_H

void check_failed(void) __attribute__((noreturn));

#define CHECK(condition)    \
    do {                    \
        if (!(condition)) { \
            check_failed(); \
        }                   \
    } while (0)

#endif
