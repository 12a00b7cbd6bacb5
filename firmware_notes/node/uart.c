#include "uart.h"

#include "check.h"

#include <avr/interrupt.h>
#include <avr/io.h>

#define BAUD 115200u
#define RX_SIZE 128u /* powers of two */
#define TX_SIZE 256u

static volatile uint8_t rx[RX_SIZE];
static volatile uint8_t rx_in, rx_out;
static volatile bool rx_lost;
static volatile uint8_t tx[TX_SIZE];
static volatile uint8_t tx_in, tx_out;

_Static_assert(RX_SIZE <= 128u && (RX_SIZE & (RX_SIZE - 1u)) == 0u, "indices are bytes that wrap");
_Static_assert(TX_SIZE == 256u, "indices wrap by themselves");

void uart_start(void)
{
    UBRR0 = (uint16_t)((F_CPU + 4u * BAUD) / (8u * BAUD) - 1u);
    UCSR0A = _BV(U2X0);
    UCSR0C = _BV(UCSZ01) | _BV(UCSZ00);
    UCSR0B = _BV(RXEN0) | _BV(TXEN0) | _BV(RXCIE0);
    CHECK(UBRR0 > 0u);
    CHECK((UCSR0B & _BV(RXEN0)) != 0u);
}

ISR(USART_RX_vect)
{
    const uint8_t status = UCSR0A; /* before the byte, which clears it */
    const uint8_t byte = UDR0;
    const uint8_t next = (uint8_t)((rx_in + 1u) % RX_SIZE);
    if ((status & (_BV(FE0) | _BV(DOR0))) != 0u || next == rx_out) {
        rx_lost = true;
    }
    if (next != rx_out) {
        rx[rx_in] = byte;
        rx_in = next;
    }
}

ISR(USART_UDRE_vect)
{
    if (tx_in == tx_out) {
        UCSR0B &= (uint8_t)~_BV(UDRIE0);
        return;
    }
    UDR0 = tx[tx_out];
    tx_out++;
}

bool uart_waiting(void)
{
    return rx_in != rx_out || rx_lost;
}

bool uart_take(uint8_t *byte)
{
    CHECK(byte != 0);
    CHECK(rx_out < RX_SIZE);
    if (rx_in == rx_out) {
        return false;
    }
    *byte = rx[rx_out];
    rx_out = (uint8_t)((rx_out + 1u) % RX_SIZE);
    return true;
}

bool uart_lost(void)
{
    const bool lost = rx_lost; /* one byte; a loss between the two lines spoils the same line of text */
    rx_lost = false;
    return lost;
}

bool uart_send(const struct frame *f)
{
    CHECK(f != 0);
    CHECK(f->length > 0u && f->length <= FRAME_MAX);
    const uint8_t used = (uint8_t)(tx_in - tx_out);
    if (f->length >= TX_SIZE - used) {
        return false;
    }
    for (uint8_t i = 0; i < f->length; i++) {
        tx[tx_in] = (uint8_t)f->bytes[i];
        tx_in++;
    }
    UCSR0B |= _BV(UDRIE0);
    return true;
}
