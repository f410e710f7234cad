/* Elevation and orbital velocity in deep water at points one after another, for `ratios`: what a user would write in C, with the
   library's functions, and (-DPOLYNOMIALS) with the kernel's own branch-free polynomials of its double-precision path. */
#include <math.h>

#ifdef POLYNOMIALS
#define ROUND 6755399441055744.0
static inline void sine_cosine(double x, double *s, double *c)
{
    double n = (x * 0.3183098861837907 + ROUND) - ROUND;
    double r = (x - n * 3.141592653589793) - n * 1.2246467991473532e-16;
    double odd = n - 2.0 * ((n * 0.5 + ROUND) - ROUND), sign = 1.0 - 2.0 * odd * odd, y = r * r;
    double ps = -1.9840804038256414e-4 + y * (2.7522618810429056e-6 + y * -2.384669329187452e-8);
    double pc = 2.4801070182443077e-5 + y * (-2.752566143619917e-7 + y * 1.991996131732345e-9);
    pc = 1.0 + y * (-0.4999999999793847 + y * (0.04166666650397076 + y * (-0.001388888461241802 + y * pc)));
    *s = sign * (r + r * y * (-0.16666666606466726 + y * (0.008333330495663078 + y * ps)));
    *c = sign * pc;
}
static inline double decay(double x)
{
    double t = (x > -24.0 ? x : -24.0) * 0.03125;
    double p = 0.008289009358308059 + t * (0.0013174171152461438 + t * 0.00013636333187896644);
    p = 0.49999973734540426 + t * (0.166663765422702 + t * (0.04165126793621644 + t * p));
    p = 1.0 + t * (0.9999999918292526 + t * p);
    p *= p; p *= p; p *= p; p *= p;
    return p * p;
}
#else
static inline void sine_cosine(double x, double *s, double *c) { *s = sin(x); *c = cos(x); }
static inline double decay(double x) { return exp(x); }
#endif

void sea_points(int points, const double *x, const double *y, const double *calm, int waves, const double *amplitude,
                const double *kx, const double *ky, const double *k, const double *speed, const double *phase, double *out)
{
    double sine[256], cosine[256];
    for (int p = 0; p < points; p++) {
        double elevation = 0.0, u = 0.0, v = 0.0, w = 0.0;
        for (int i = 0; i < waves; i++) {
            sine_cosine(kx[i] * x[p] + ky[i] * y[p] + phase[i], &sine[i], &cosine[i]);
            elevation += amplitude[i] * cosine[i];
        }
        double depth = calm[p] + elevation;
        depth = depth > 0.0 ? depth : 0.0;
        for (int i = 0; i < waves; i++) {
            double size = speed[i] * decay(-k[i] * depth), along = size * cosine[i] / k[i];
            u += along * kx[i];
            v += along * ky[i];
            w -= size * sine[i];
        }
        out[4 * p] = elevation;
        out[4 * p + 1] = u;
        out[4 * p + 2] = v;
        out[4 * p + 3] = w;
    }
}
