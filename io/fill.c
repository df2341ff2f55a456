#include "io/fill.h"

#include <math.h>

static const double PI = 3.14159265358979323846;

/* Area of the part of a circle below height h over its centre: r^2 (acos(-x) + x sqrt(1 - x^2)), x = h / r. */
static double segment_area(double r, double h)
{
  const double x = fmax(-1.0, fmin(1.0, h / r));
  return r * r * (acos(-x) + x * sqrt(1.0 - x * x));
}

static double rings_below(const fill_rings *k, double z)
{
  double volume = 0.0;
  for (size_t i = 0; i < k->num; i++)
    volume += 2.0 * PI * k->rings[i][0] * segment_area(k->tube_radius, z - k->rings[i][1]);
  for (size_t i = 0; i + 1 < k->num_points; i++) {
    const double *a = k->points[i], *b = k->points[i + 1];
    const double length = sqrt(pow(b[0] - a[0], 2.0) + pow(b[1] - a[1], 2.0) + pow(b[2] - a[2], 2.0));
    const int parts = 1 + (int)fmin(1000.0, fabs(b[2] - a[2]) / k->tube_radius); /* so short that each lies about level */
    for (int n = 0; n < parts; n++)
      volume += length / parts * segment_area(k->tube_radius, z - a[2] - (b[2] - a[2]) * (n + 0.5) / parts);
  }
  return volume;
}

double fill_volume(const fill *f, double z)
{
  double volume = shape_volume_below(f->space, f->revolved, z, f->revolved ? 1e-6 : 1e-3);
  for (size_t i = 0; i < f->num_rings; i++)
    volume -= rings_below(&f->rings[i], z);
  return volume;
}

/* Regula falsi, Illinois form (Dowell & Jarratt 1971): the volume rises with the level. */
double fill_level(const fill *f, double volume)
{
  double a = f->floor, b = f->rim, fa = -volume, fb = fill_volume(f, b) - volume;
  if (fb <= 0.0)
    return b;
  int side = 0; /* which end moved last */
  for (int i = 0; i < 60 && b - a > 1e-7 * (f->rim - f->floor); i++) {
    double z = a - fa * (b - a) / (fb - fa);
    if (!(z > a) || !(z < b))
      z = 0.5 * (a + b);
    const double fz = fill_volume(f, z) - volume;
    if (fabs(fz) <= (f->revolved ? 1e-8 : 1e-5) * volume) /* in three dimensions the volume itself is known to 1e-3 */
      return z;
    if (fz < 0.0) {
      a = z;
      fa = fz;
      fb *= side < 0 ? 0.5 : 1.0;
      side = -1;
    } else {
      b = z;
      fb = fz;
      fa *= side > 0 ? 0.5 : 1.0;
      side = 1;
    }
  }
  return 0.5 * (a + b);
}
