/* Arithmetic. Libraries differ in the last digits of sine and arc tangent, so they are written out here; good to 1e-8. */

#define N(x) ((number)(x))
#define PI N(3.141592653589793)
#define GRAVITY N(9.81)

static number square_root(number x)
{
#ifdef CONTROL_DOUBLE
    return sqrt(x);
#else
    return sqrtf(x);
#endif
}

static number clip(number x, number low, number high)
{
    number y = x > low ? x : low;
    return y < high ? y : high;
}

static number size(number x)
{
    return x < 0 ? -x : x;
}

/* The same angle (rad) within half a turn; of one that is within one and a half. */
static number wrapped(number angle)
{
    if (angle > PI)
        return angle - 2 * PI;
    if (angle < -PI)
        return angle + 2 * PI;
    return angle;
}

/* Of an angle in rad, within some turns. */
static inline struct turn turn_of(number angle)
{
    number x = angle, sign = 1, y, z, s, c;
    struct turn found;
    if (size(angle) > PI / 2) {
        int half_turns = (int)(angle * N(0.3183098861837907) + (angle < 0 ? N(-0.5) : N(0.5)));
        x = angle - (number)half_turns * PI;
        sign = half_turns % 2 == 0 ? N(1.0) : N(-1.0);
    }
    y = x * x;
    z = y * y;
    s = (N(-1.9840804038256414e-4) + y * N(2.7522618810429056e-6)) + z * N(-2.384669329187452e-8);
    s = (N(-0.16666666606466726) + y * N(0.008333330495663078)) + z * s;
    c = (N(2.4801070182443077e-5) + y * N(-2.752566143619917e-7)) + z * N(1.991996131732345e-9);
    c = (N(0.04166666650397076) + y * N(-0.001388888461241802)) + z * c;
    found.sine = sign * (x + x * y * s);
    found.cosine = sign * ((1 + y * N(-0.4999999999793847)) + z * c);
    return found;
}

/* The angle (rad) that has this tangent, which is at most 0.42 either way. */
static inline number angle_of(number tangent)
{
    number y = tangent * tangent, z = y * y, p;
    p = (N(-0.06937324140971665) + y * N(0.026811800506594048)) * z + (N(-0.1421734973377345) + y * N(0.10590837023826512));
    p = (N(-0.3333323084128392) + y * N(0.19995601230687268)) + z * p;
    return tangent + tangent * y * p;
}

/* Angle (rad) of the vector (x, y) from the x axis, -pi ... pi; 0 for no vector. */
static inline number direction(number y, number x)
{
    number across = size(y), along = size(x), slope, angle;
    if (x > 0 && across <= N(0.41) * along)
        return angle_of(y / x);
    slope = across > along ? along / across : along > 0 ? across / along : 0;
    angle = 2 * angle_of(slope / (1 + square_root(1 + slope * slope)));
    angle = across > along ? PI / 2 - angle : angle;
    angle = x < 0 ? PI - angle : angle;
    return y < 0 ? -angle : angle;
}
