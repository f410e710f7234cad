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

struct turn {
    number sine, cosine;
};

/* Of an angle in rad, within some turns. */
static struct turn turn_of(number angle)
{
    int half_turns = (int)(angle * N(0.3183098861837907) + (angle < 0 ? N(-0.5) : N(0.5)));
    number r = (angle - (number)half_turns * PI) - (number)half_turns * N(1.2246467991473532e-16);
    number sign = half_turns % 2 == 0 ? N(1.0) : N(-1.0);
    number y = r * r;
    number s = N(-1.9840804038256414e-4) + y * (N(2.7522618810429056e-6) + y * N(-2.384669329187452e-8));
    number c = N(2.4801070182443077e-5) + y * (N(-2.752566143619917e-7) + y * N(1.991996131732345e-9));
    struct turn found;
    s = r + r * y * (N(-0.16666666606466726) + y * (N(0.008333330495663078) + y * s));
    c = 1 + y * (N(-0.4999999999793847) + y * (N(0.04166666650397076) + y * (N(-0.001388888461241802) + y * c)));
    found.sine = sign * s;
    found.cosine = sign * c;
    return found;
}

/* Angle (rad) of the vector (x, y) from the x axis, -pi ... pi; 0 for no vector. */
static number direction(number y, number x)
{
    number across = size(y), along = size(x);
    int steep = across > along;
    number large = steep ? across : along;
    number slope = (steep ? along : across) / (large > 0 ? large : N(1.0));
    number half = slope / (1 + square_root(1 + slope * slope));
    number q = half * half;
    number p = N(0.10590837023826512) + q * (N(-0.06937324140971665) + q * N(0.026811800506594048));
    number angle;
    p = N(-0.3333323084128392) + q * (N(0.19995601230687268) + q * (N(-0.1421734973377345) + q * p));
    angle = 2 * (half + half * q * p);
    angle = steep ? PI / 2 - angle : angle;
    angle = x < 0 ? PI - angle : angle;
    return y < 0 ? -angle : angle;
}
