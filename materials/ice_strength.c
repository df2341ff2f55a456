#include "materials/ice_strength.h"

#include <math.h>
#include <stddef.h>

double ice_strength_creep(double temperature)
{
  static const struct { double temperature, creep; } row[] = {{0, 2.4e-24},    {-2, 1.7e-24},   {-5, 9.3e-25},   {-10, 3.5e-25}, {-15, 2.1e-25},
                                                              {-20, 1.2e-25}, {-30, 3.7e-26}, {-40, 1.0e-26}, {-50, 2.6e-27}};
  const size_t last = sizeof row / sizeof *row - 1;
  if (temperature >= row[0].temperature)
    return row[0].creep;
  if (temperature <= row[last].temperature)
    return row[last].creep;
  size_t i = 0;
  while (temperature < row[i + 1].temperature)
    i++;
  const double share = (temperature - row[i].temperature) / (row[i + 1].temperature - row[i].temperature);
  return row[i].creep * pow(row[i + 1].creep / row[i].creep, share);
}

double ice_strength_melting_pressure(double temperature)
{
  static const double a[3] = {0.119539337e7, 0.808183159e5, 0.333826860e4}, b[3] = {3.0, 25.75, 103.75};
  const double theta = (temperature + 273.15) / 273.16;
  double sum = 1.0;
  for (int i = 0; i < 3; i++)
    sum += a[i] * (1.0 - pow(theta, b[i]));
  return 611.657 * sum;
}

double ice_strength_melting_temperature(double pressure)
{
  double low = -22.0, high = 0.01; /* the pressure falls with temperature */
  for (int i = 0; i < 80; i++) {
    const double middle = 0.5 * (low + high);
    if (ice_strength_melting_pressure(middle) > pressure)
      low = middle;
    else
      high = middle;
  }
  return 0.5 * (low + high);
}
