/* The check on the board itself: nothing moves. Call it once, with what sends one letter over your serial line:
 *
 *     serial_check(send_letter);
 *
 * The line that it sends ends in "agrees" or "DIFFERS". Differences are in billionths: of a rad, of full throttle, of a m.
 */
#include "check.h"

static void send_text(void (*send)(char letter), const char *text)
{
    while (*text)
        send(*text++);
}

static void send_count(void (*send)(char letter), unsigned long count)
{
    unsigned long tens = 1;
    while (count / tens > 9)
        tens *= 10;
    for (; tens > 0; tens /= 10)
        send((char)('0' + count / tens % 10));
}

static void send_difference(void (*send)(char letter), const char *name, number difference)
{
    send_text(send, name);
    if (difference < 4)
        send_count(send, (unsigned long)(difference * (number)1e9));
    else
        send_text(send, "over 4e9");
}

void serial_check(void (*send)(char letter))
{
    struct check found;
    check_law(&found);
    send_count(send, (unsigned long)found.ticks);
    send_difference(send, " ticks; angles ", found.angle);
    send_difference(send, ", throttle ", found.throttle);
    send_difference(send, ", height ", found.height);
    send_text(send, "; ticks in another state ");
    send_count(send, (unsigned long)found.wrong);
    if (found.angle <= found.step && found.throttle <= found.step && found.height <= found.step && found.wrong == 0)
        send_text(send, ": agrees\r\n");
    else
        send_text(send, ": DIFFERS\r\n");
}
