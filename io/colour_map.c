#include "io/colour_map.h"

#include <math.h>
#include <stddef.h>

/* ------------------------------------------------------------------------------------------------ sRGB and CIELAB */

/* Linear sRGB to XYZ, IEC 61966-2-1:1999, and the white point D65 that its rows add up to. */
static const double XYZ_OF_RGB[3][3] = {
    {0.4124, 0.3576, 0.1805}, {0.2126, 0.7152, 0.0722}, {0.0193, 0.1192, 0.9505}};
/* Its inverse to the digits that bring a round trip below 1e-4. */
static const double RGB_OF_XYZ[3][3] = {
    {3.2406254773, -1.5372079722, -0.4986285987}, {-0.9689307147, 1.8757560609, 0.0415175238},
    {0.0557101204, -0.2040210506, 1.0569959423}};
static const double WHITE[3] = {0.9505, 1.0, 1.0890};

/* IEC 61966-2-1: the transfer curve of sRGB. */
static double linear_of(double v) { return v <= 0.04045 ? v / 12.92 : pow((v + 0.055) / 1.055, 2.4); }
static double encoded_of(double v) { return v <= 0.0031308 ? 12.92 * v : 1.055 * pow(v, 1.0 / 2.4) - 0.055; }

/* ISO/CIE 11664-4: cube root with a straight foot below (6/29)^3. */
static double lab_curve(double t) { return t > 216.0 / 24389.0 ? cbrt(t) : (841.0 / 108.0) * t + 4.0 / 29.0; }
static double lab_inverse(double f) { return f > 6.0 / 29.0 ? f * f * f : (108.0 / 841.0) * (f - 4.0 / 29.0); }

void colour_map_to_lab(colour c, double lab[3])
{
  const double rgb[3] = {linear_of(c.red), linear_of(c.green), linear_of(c.blue)};
  double f[3];
  for (int i = 0; i < 3; i++)
    f[i] = lab_curve((XYZ_OF_RGB[i][0] * rgb[0] + XYZ_OF_RGB[i][1] * rgb[1] + XYZ_OF_RGB[i][2] * rgb[2]) / WHITE[i]);
  lab[0] = 116.0 * f[1] - 16.0;
  lab[1] = 500.0 * (f[0] - f[1]);
  lab[2] = 200.0 * (f[1] - f[2]);
}

bool colour_map_from_lab(const double lab[3], colour *c)
{
  const double fy = (lab[0] + 16.0) / 116.0;
  const double xyz[3] = {WHITE[0] * lab_inverse(fy + lab[1] / 500.0), WHITE[1] * lab_inverse(fy),
                         WHITE[2] * lab_inverse(fy - lab[2] / 200.0)};
  double rgb[3];
  bool inside = true;
  for (int i = 0; i < 3; i++) {
    const double linear = RGB_OF_XYZ[i][0] * xyz[0] + RGB_OF_XYZ[i][1] * xyz[1] + RGB_OF_XYZ[i][2] * xyz[2];
    inside = inside && linear > -1e-4 && linear < 1.0 + 1e-4;
    rgb[i] = encoded_of(fmin(fmax(linear, 0.0), 1.0));
  }
  *c = (colour){rgb[0], rgb[1], rgb[2], 1.0};
  return inside;
}

/* ------------------------------------------------------------------------------------------------ ramps */

typedef struct { double lightness, chroma, hue; } station; /* L*, C*, degrees */

/* Chosen by us: chroma as high as the screen shows at that lightness and hue, hues that stay apart without red against green. */
static const station TIME_STATIONS[] = {{97.0, 5.0, 190.0}, {78.0, 28.0, 200.0}, {61.0, 33.0, 230.0}, {43.0, 38.0, 280.0},
                                        {22.0, 42.0, 310.0}};
static const station LIQUID_STATIONS[] = {{97.0, 3.0, 230.0}, {70.0, 31.0, 250.0}, {36.0, 42.0, 277.0}};
static const station TEMPERATURE_STATIONS[] = {{26.0, 42.0, 285.0}, {60.0, 36.0, 262.0}, {95.0, 4.0, 170.0},
                                               {60.0, 58.0, 62.0},  {26.0, 42.0, 44.0}};

static void lab_of_station(station s, double lab[3])
{
  const double angle = s.hue * acos(-1.0) / 180.0;
  lab[0] = s.lightness;
  lab[1] = s.chroma * cos(angle);
  lab[2] = s.chroma * sin(angle);
}

static double difference(const double a[3], const double b[3])
{
  return sqrt((a[0] - b[0]) * (a[0] - b[0]) + (a[1] - b[1]) * (a[1] - b[1]) + (a[2] - b[2]) * (a[2] - b[2]));
}

/* Entries first..last divide the path along num stations by equal colour difference. */
static void fill_path(colour_map *map, size_t first, size_t last, const station *stations, size_t num)
{
  double lab[8][3], length[8] = {0};
  for (size_t i = 0; i < num; i++) {
    lab_of_station(stations[i], lab[i]);
    if (i)
      length[i] = length[i - 1] + difference(lab[i - 1], lab[i]);
  }
  size_t leg = 0;
  for (size_t i = first; i <= last; i++) {
    const double along = length[num - 1] * (double)(i - first) / (double)(last - first);
    while (leg + 2 < num && along > length[leg + 1])
      leg++;
    const double share = (along - length[leg]) / (length[leg + 1] - length[leg]);
    double here[3];
    for (int k = 0; k < 3; k++)
      here[k] = lab[leg][k] + share * (lab[leg + 1][k] - lab[leg][k]);
    (void)colour_map_from_lab(here, &map->entry[i]);
  }
}

void colour_map_fill(colour_map *map, colour_map_kind kind)
{
  const size_t last = COLOUR_MAP_SIZE - 1, middle = COLOUR_MAP_SIZE / 2;
  switch (kind) {
  case COLOUR_MAP_TIME: fill_path(map, 0, last, TIME_STATIONS, 5); break;
  case COLOUR_MAP_LIQUID: fill_path(map, 0, last, LIQUID_STATIONS, 3); break;
  case COLOUR_MAP_TEMPERATURE: /* each side by itself, so that the pale middle sits in the middle */
    fill_path(map, 0, middle, TEMPERATURE_STATIONS, 3);
    fill_path(map, middle, last, TEMPERATURE_STATIONS + 2, 3);
    break;
  }
}

colour colour_map_at(const colour_map *map, double x)
{
  if (!isfinite(x))
    return (colour){0.0, 0.0, 0.0, 0.0};
  const double cut = fmin(fmax(x, 0.0), 1.0);
  return map->entry[(size_t)(cut * (COLOUR_MAP_SIZE - 1) + 0.5)];
}
