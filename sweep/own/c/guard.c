/* Calls a builder's code for every lane, one after the other, and outlives what it does wrong.
 *
 * The code runs on a stack of its own, between pages that nobody may touch; so are every lane's memory and settings, far from the
 * others'. What it is given and commands at a tick are written anew for each lane, and so stand in one place for all.
 * A fault, an abort or a tick without end leads back to the other stack: that lane has failed, and is not called again.
 */
#define _GNU_SOURCE
#include <setjmp.h>
#include <signal.h>
#include <stdint.h>
#include <string.h>
#include <sys/mman.h>
#include <sys/time.h>
#include <ucontext.h>
#include <unistd.h>

#include "places.h"

#define CRASHED 1
#define HUNG 2
#define ENDLESS 3
#define NOT_A_NUMBER 4
#define DONE 99
#define FAR (((size_t)61 << 20) + 7 * 65536) /* between lanes: no round number of bytes leads from one to the next */
#define APART ((size_t)1 << 20) /* between the objects of a lane */
#define STACK ((size_t)512 << 10)
#define TICK_MICROSECONDS 100000 /* of processor time; a tick that sees three of them is without end */

enum { SETTINGS, READINGS, COMMANDS, MEMORY, OBJECTS };

/* caller.c, in the builder's translation unit */
extern const unsigned long caller_sizes[OBJECTS];
void caller_begin(const double *numbers, void *settings, void *memory);
void caller_fetch(void *const *objects);
int caller_tick(const cell *given, void *const *objects, cell *wanted);

static unsigned char *objects[LANES][OBJECTS];
static const double *numbers;
static cell *given, *wanted;
static long numbers_width, tick;
static volatile int begins, lane;
static unsigned char *stack;
static ucontext_t here, there;
static sigjmp_buf back, on; /* of the usual stack; of the other, where its loop waits for the next tick */
static int waits;
#define WANTED_OF(l, place) wanted[(place) * LANES + (l)]
static volatile sig_atomic_t inside, invalid, signal_seen, same;
static volatile unsigned long progress, seen;

static int holds_not_a_number(const unsigned char *bytes, unsigned long size)
{
    unsigned long i;
    int found = 0;
    for (i = 0; i + 4 <= size; i += 4) {
        uint32_t word;
        memcpy(&word, bytes + i, 4);
        found |= (word & 0x7fffffffu) == 0x7fc00000u; /* what arithmetic gives, and NAN, of either sign */
    }
    return found;
}

/* Every sixteenth tick: what is not a number stays so, and most of it was seen as it came about. */
static int memory_is_wrong(int l)
{
    return (tick + l) % 16 == 0 && holds_not_a_number(objects[l][MEMORY], caller_sizes[MEMORY]);
}

/* An operation that gives what is not a number is a signal while lanes run: to ask after each lane whether there was one makes
 * the processor wait until all of that lane's are done. */
#ifdef __x86_64__
#define INVALID_MASK 0x80u
#define FLAGS 0x3fu

static void catch_invalid(void)
{
    __builtin_ia32_ldmxcsr(__builtin_ia32_stmxcsr() & ~(INVALID_MASK | FLAGS));
}

static void pass_invalid(void)
{
    __builtin_ia32_ldmxcsr(__builtin_ia32_stmxcsr() | INVALID_MASK);
}

/* Lets the interrupted code go on: what it gives is looked at as ever, and says more than that it went wrong. */
static void note_invalid(void *context)
{
    ((ucontext_t *)context)->uc_mcontext.fpregs->mxcsr |= INVALID_MASK;
    invalid = 1;
}
#else
static void catch_invalid(void) {}
static void pass_invalid(void) {}
static void note_invalid(void *context) { (void)context; }
#endif

static int run_lane(int l)
{
    int kind;
    if (begins) {
        caller_begin(numbers + (long)l * numbers_width, objects[l][SETTINGS], objects[l][MEMORY]);
        return 0;
    }
    kind = caller_tick(given + l, (void *const *)objects[l], wanted + l);
    if (kind == 0 && (invalid || memory_is_wrong(l))) {
        WANTED_OF(l, WHAT) = -1;
        kind = NOT_A_NUMBER;
    }
    return kind;
}

static void fail(int l, int kind)
{
    WANTED_OF(l, FAILED) = kind;
    WANTED_OF(l, AT_TICK) = (cell)tick;
}

/* On the other stack: the lanes from `lane` on, tick after tick. */
static void run_lanes(void)
{
    for (;;) {
        catch_invalid();
        inside = 1;
        for (; lane < LANES; lane++) {
            int kind, l = lane;
            if (WANTED_OF(l, FAILED) > 0 || (!begins && given[FLIES * LANES + l] == 0))
                continue;
            progress++;
            if (l + 1 < LANES)
                caller_fetch((void *const *)objects[l + 1]);
            kind = run_lane(l);
            if (kind)
                fail(l, kind);
            if (invalid) {
                invalid = 0;
                catch_invalid();
            }
        }
        inside = 0;
        pass_invalid();
        waits = 1;
        if (!sigsetjmp(on, 0))
            siglongjmp(back, DONE);
    }
}

static void on_signal(int number, siginfo_t *info, void *context)
{
    int kind = CRASHED;
    const unsigned char *at = (const unsigned char *)info->si_addr;
    if (number == SIGPROF) {
        if (!inside || progress != seen) {
            seen = progress;
            same = 0;
            return;
        }
        same = same + 1;
        if (same < 3)
            return;
        kind = HUNG;
    } else if (!inside) {
        signal(number, SIG_DFL);
        raise(number);
        return;
    } else if (number == SIGFPE && info->si_code == FPE_FLTINV) {
        note_invalid(context);
        return;
    } else if (number == SIGSEGV && at >= stack && at < stack + APART)
        kind = ENDLESS;
    signal_seen = number;
    siglongjmp(back, kind);
}

static int64_t all_lanes(void)
{
    int kind;
    lane = 0;
    kind = sigsetjmp(back, 0);
    if (kind == DONE)
        return 0;
    if (kind) { /* that lane's frames on the other stack are left behind */
        inside = 0;
        invalid = 0;
        same = 0;
        waits = 0;
        WANTED_OF(lane, WHAT) = signal_seen;
        fail(lane, kind);
        lane++;
    }
    if (waits)
        siglongjmp(on, 1);
    getcontext(&there);
    there.uc_stack.ss_sp = stack + APART;
    there.uc_stack.ss_size = STACK;
    there.uc_link = &here;
    makecontext(&there, run_lanes, 0);
    swapcontext(&here, &there);
    return 0;
}

int64_t guard_tick(int64_t unused)
{
    (void)unused;
    begins = 0;
    all_lanes();
    tick++;
    return 0;
}

/* Begins all lanes anew. of_lanes: (LANES, width) numbers of their settings; fill: of every byte of the memory before. */
void guard_begin(const double *of_lanes, long width, int fill, long first_tick)
{
    int l;
    numbers = of_lanes;
    numbers_width = width;
    tick = first_tick;
    memset(wanted, 0, sizeof(cell) * LANES * WANTED_WIDTH);
    for (l = 0; l < LANES; l++) {
        memset(objects[l][MEMORY], fill, caller_sizes[MEMORY]);
        memset(objects[l][SETTINGS], 0, caller_sizes[SETTINGS]);
    }
    begins = 1;
    all_lanes();
}

/* Once a process. Gives 0, or 1 if there is no room. */
int guard_open(cell *given_to, cell *wanted_by)
{
    static const int signals[] = {SIGSEGV, SIGBUS, SIGFPE, SIGILL, SIGABRT, SIGTRAP, SIGPROF};
    static unsigned char handlers_stack[64 << 10];
    struct itimerval every = {{0, TICK_MICROSECONDS}, {0, TICK_MICROSECONDS}};
    struct sigaction act;
    stack_t other;
    size_t page = (size_t)sysconf(_SC_PAGESIZE), i;
    int l, o;
    unsigned char *all = mmap(NULL, LANES * FAR, PROT_NONE, MAP_PRIVATE | MAP_ANONYMOUS | MAP_NORESERVE, -1, 0);
    stack = mmap(NULL, 2 * APART + STACK, PROT_NONE, MAP_PRIVATE | MAP_ANONYMOUS | MAP_NORESERVE, -1, 0);
    if (all == MAP_FAILED || stack == MAP_FAILED || mprotect(stack + APART, STACK, PROT_READ | PROT_WRITE))
        return 1;
    for (l = 0; l < LANES; l++)
        for (o = 0; o < OBJECTS; o++) { /* each ends where its pages end */
            size_t size = (caller_sizes[o] + 15) / 16 * 16, pages = (size + page - 1) / page * page;
            unsigned char *first = all + (size_t)l * FAR + FAR / 2 + (size_t)o * APART;
            if (l > 0 && (o == READINGS || o == COMMANDS)) {
                objects[l][o] = objects[0][o];
                continue;
            }
            if (pages > APART / 2 || mprotect(first, pages, PROT_READ | PROT_WRITE))
                return 1;
            objects[l][o] = first + pages - size;
        }
    given = given_to;
    wanted = wanted_by;
    other.ss_sp = handlers_stack;
    other.ss_size = sizeof handlers_stack;
    other.ss_flags = 0;
    memset(&act, 0, sizeof act);
    act.sa_sigaction = on_signal;
    act.sa_flags = SA_SIGINFO | SA_ONSTACK | SA_NODEFER | SA_RESTART;
    if (sigaltstack(&other, NULL))
        return 1;
    for (i = 0; i < sizeof signals / sizeof signals[0]; i++)
        if (sigaction(signals[i], &act, NULL))
            return 1;
    return setitimer(ITIMER_PROF, &every, NULL) != 0;
}
