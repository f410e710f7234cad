/* On an AVR: what the check says, over the serial port; then sleeps. */
#include <avr/interrupt.h>
#include <avr/io.h>
#include <avr/sleep.h>

#include "check.h"

static void put(char letter)
{
    while (!(UCSR0A & (1 << UDRE0)))
        ;
    UDR0 = (unsigned char)letter;
}

int main(void)
{
    UCSR0B = 1 << TXEN0;
    serial_check(put);
    cli();
    sleep_enable();
    sleep_cpu();
    return 0;
}
