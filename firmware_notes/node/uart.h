/* The serial line, 115200 baud 8N1: bounded buffers both ways, nothing ever waits. */
#ifndef UART_H
#define UART_H

#include "frame.h"

#include <stdbool.h>
#include <stdint.h>

void uart_start(void);

/* Whether a received byte waits. */
bool uart_waiting(void);

/* The next received byte; false when there is none. */
bool uart_take(uint8_t *byte);

/* Whether received bytes were lost since this was last asked. */
bool uart_lost(void);

/* Send a frame; false, and nothing is sent, while there is no room for all of it. */
bool uart_send(const struct frame *f);

#endif
