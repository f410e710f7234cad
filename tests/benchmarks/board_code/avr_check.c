/* On an AVR: what the check says, over the serial port; then sleeps. */
#include <avr/interrupt.h>
#include <avr/io.h>
#include <avr/sleep.h>
#include <stdio.h>

#include "check.h"

static int put(char letter, FILE *stream)
{
    (void)stream;
    while (!(UCSR0A & (1 << UDRE0)))
        ;
    UDR0 = (unsigned char)letter;
    return 0;
}

static FILE serial = FDEV_SETUP_STREAM(put, NULL, _FDEV_SETUP_WRITE);

int main(void)
{
    struct check found;
    UCSR0B = 1 << TXEN0;
    stdout = &serial;
    check_law(&found);
    printf("ticks %d off_nano %ld wrong %d\n", found.ticks, (long)(found.angle * 1e9), found.wrong);
    cli();
    sleep_enable();
    sleep_cpu();
    return 0;
}
