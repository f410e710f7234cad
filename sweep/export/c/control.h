/* The control law of one design: what it reads, what it commands, what it remembers between ticks.
 *
 * Units are SI: m, s, rad, m/s, rad/s. Axes of the boat: x forward, y to starboard, z down, from the centre of gravity.
 * Positive: roll with the starboard side down, pitch with the bow up, yaw and heading with the bow to starboard.
 * There is no heap, no global that changes, no recursion, no library but the square root. All that changes is in the memory.
 */
#ifndef CONTROL_H
#define CONTROL_H

#include "sizes.h"

#ifdef CONTROL_DOUBLE /* for comparison with the model; a board takes float */
typedef double number;
#else
typedef float number;
#endif

#ifdef __cplusplus
extern "C" {
#endif

/* One reading of a rangefinder. No echo is no reading: leave it out of the queue. */
struct range_reading {
    unsigned char sensor; /* 0 ... RANGEFINDERS - 1, in the order of sizes.h */
    number distance;      /* m along the beam, as the sensor gives it; outside 0 ... its far limit it is left out */
};

/* Fill in all of it before every tick. A value that is not a number, or far out of its range, stops the boat. */
struct control_readings {
    number elapsed;                     /* s since the last tick, over 0; the law was flown with SETTINGS.period */
    unsigned char range_count;          /* readings that came since the last tick, 0 ... MOST_RANGES */
    struct range_reading ranges[MOST_RANGES]; /* of each sensor the oldest first; every one, not only the last */
    number gyro[3];                     /* rad/s about x, y, z, within 50; biases taken off on the bench */
    number force[3];                    /* m/s2 along x, y, z, within 400: at rest and level it reads 0, 0, -9.81 */
    number speed;                       /* m/s over ground, -5 ... 50; the last one that came */
    number heading;                     /* rad clockwise from above, from any fixed direction, -pi ... pi; the last one */
    unsigned char fix_is_new;           /* 1 at the first tick that has this speed and heading, else 0 */
    unsigned char armed;                /* 1 while the arming switch is on */
    number link_age;                    /* s since the last good message from the person in charge, 0 or more */
    unsigned char go;                   /* 1: take off and fly; 0: throttle shut, foils and rudder still answer */
    number wanted_speed;                /* m/s, over 0 ... 30; trims are held beyond the speeds in the settings */
    number wanted_course;               /* rad as the heading; the law turns the shorter way round */
    number wanted_height;               /* m of the keel over the water, over 0 ... 5; SETTINGS.ride_height was flown */
};

/* Neutral is 0 for all of it. */
struct control_commands {
    number foil[FOILS]; /* rad from the rigging angle, nose up for more lift, within the travel of its servo */
#if RUDDER
    number rudder;      /* rad, trailing edge to starboard, of the first rudder; within its travel */
#endif
#if DIFFERENTIAL
    number throttle_port;      /* 0 ... 1 */
    number throttle_starboard; /* 0 ... 1 */
#else
    number throttle;    /* 0 ... 1 */
#endif
    /* For the record only */
    number height;      /* m of the keel over the water, as estimated */
    number course;      /* rad, that is steered now */
    number bank;        /* rad wanted, starboard down */
    unsigned refused;   /* readings that the gate refused since the start; goes on at 0 after the largest */
    unsigned char mode; /* as in the memory */
};

/* Limits of the safe state: no setting changes them. Judgement, all of them. */
#define LONGEST_LINK_AGE ((number)0.5)  /* s */
#define LONGEST_RANGE_AGE ((number)2.0) /* s; SETTINGS.range_age may ask for less */
#define LEAST_UPRIGHT ((number)0.5)     /* cosine of the largest tilt, 60 degrees: of the roll on an even keel */

/* What the law does: only in CONTROL_RUNS does anything move.
 * CONTROL_STOPPED: at power-up, and once the link or a range is stale, the boat is over, or a reading is impossible. It stays
 * until the arming switch has been off. CONTROL_DISARMED: the switch is off. */
enum control_mode { CONTROL_STOPPED, CONTROL_DISARMED, CONTROL_RUNS };

struct loop_gains {
    number proportional, integral, derivative; /* of the error, of its integral, of the measured rate */
    number limit;                              /* rad, of the command and of the integral */
};

#if CASCADES
struct cascade_gains {
    number angle_proportional; /* 1/s: rate of turning for an angle */
    number angle_limit;        /* rad/s, of the rate asked for */
    number angle_filter;       /* Hz, corner of the low-pass on the angle wanted */
    struct loop_gains rate;    /* s, rad/rad, s2; the derivative is of the filtered rate */
    number rate_filter;        /* Hz, corner of the low-pass on the gyro's rate */
};

#endif
struct trim {
    number speed;    /* m/s, rising from one trim to the next */
    number height;   /* rad, height command */
    number pitch;    /* rad, pitch command */
    number throttle; /* 0 ... 1 */
};

struct rangefinder {
    number x, y;    /* m, from the centre of gravity */
    number height;  /* m over the keel */
    number look[3]; /* along its beam: (0, 0, 1) looks straight down; of length 1 */
    number far;     /* m, beyond which it reads nothing */
    number trust;   /* weight among the others; 0: not used */
#if PLANE
    number plane;   /* share of its height in the plane's height at the centre of gravity */
#endif
#if GATED
    number gate;    /* m, the largest jump; 0: none */
#endif
};

struct foil {
    number height, pitch, roll; /* angle for one radian of each command */
    number travel;              /* rad either way; 0: fixed */
};

struct control_settings {
    number period;                  /* s between ticks that was flown */
    number ride_height, pitch_trim; /* m, rad: wanted */
    struct loop_gains height_loop;  /* rad/m, rad/m/s, rad s/m */
#if LEVELS
#if CASCADES
    struct cascade_gains pitch_cascade, roll_cascade;
#endif
#if !CASCADES
    struct loop_gains pitch_loop, roll_loop; /* rad/rad, 1/s, s */
#endif
#endif
#if FUSES
    number corner;                  /* rad/s, of the fused height */
#endif
#if !FUSES
    number smoothing;               /* s, of the height whose rate is taken */
#endif
#if LEVELS
    number pitch_share;             /* rad/m, bow up for missing height */
#endif
    number throttle_share;          /* 1/m, throttle for missing height */
#if STEERS
    number heading_proportional, heading_derivative, heading_limit; /* rad/rad, s, rad */
#endif
    number speed_proportional, speed_integral; /* 1/(m/s), 1/m */
    number turn_rate;               /* rad/s */
    number bank_share, bank_limit;  /* of a coordinated turn's bank; rad */
    number levelling_time;          /* s, of the attitude */
#if SCHEDULED
    number schedule_speed;          /* m/s, of the gains */
#endif
#if PREVIEWS
    number preview;                 /* share of the matching angle */
    number preview_distance;        /* m ahead of the centre of gravity that the rangefinders see the water */
    number preview_delay;           /* s, latency and smoothing */
#endif
#if COUNTS_TURNS
    number fix_rate;                /* fixes a second */
#endif
#if RUDDER
    number rudder_side;             /* 1 aft of the centre of gravity, -1 ahead */
    number rudder_travel;           /* rad */
#endif
#if DIFFERENTIAL
    number differential;            /* throttle for a radian of steering */
#endif
    number range_age;               /* s without a reading, after which a rangefinder is stale */
    struct rangefinder rangefinders[RANGEFINDERS];
    struct foil foils[FOILS];
    struct trim trims[TRIMS];
#if OWN
    struct own_settings own;
#endif
};

struct range_memory {
    number last;         /* m, last reading that was admitted */
    number age;          /* s since any reading came */
    unsigned char known; /* 1 once there is one */
#if GATED
    unsigned char refused_in_a_row;
#endif
#if MEDIAN > 1
    number recent[MEDIAN]; /* m, newest first */
    unsigned char recent_count;
#endif
};

#if CASCADES
struct cascade_memory {
    number wanted; /* rad, filtered, beside the trim's */
    number rate;   /* rad/s, filtered */
};

#endif
struct turn {
    number sine, cosine;
};

struct attitude {
    struct turn roll, pitch;
};

struct control_memory {
    unsigned char mode;
    unsigned refused;
    unsigned char attitude_known, height_known;
    number roll, pitch;       /* rad, estimates */
    struct attitude attitude; /* of these */
    struct range_memory ranges[RANGEFINDERS];
    number height[HEIGHT_TICKS]; /* m, estimates: now, one tick ago ... */
#if FUSES
    number climb;                /* m/s, upward */
#endif
#if !FUSES
    number smoothed_height;      /* m */
#endif
#if LEVELS
    number height_integral, pitch_integral, roll_integral; /* rad */
#if CASCADES
    struct cascade_memory pitch_cascade, roll_cascade;
#endif
    unsigned char flying;
    number quick_time;           /* s for which it has been about as quick as wanted */
#endif
    number speed_integral;
    number course;               /* rad */
#if COUNTS_TURNS
    number last_heading, heading_rate; /* rad, rad/s */
    unsigned char heading_known;
#endif
#if PREVIEWS
    number climbs[PREVIEW_TICKS]; /* m/s, a ring */
    unsigned char newest_climb;
#endif
};

extern const struct control_settings SETTINGS; /* settings.c */

/* Call once at power-up. The boat stays stopped until the arming switch has been seen off, and then on. */
void control_start(struct control_memory *m);

/* Call every SETTINGS.period seconds. Gives each servo and propeller its command in c; c is neutral whenever it may not move. */
void control_tick(const struct control_settings *s, struct control_memory *m, const struct control_readings *r,
                  struct control_commands *c);

#ifdef __cplusplus
}
#endif
#endif
