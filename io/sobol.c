#include "io/sobol.h"

#include <stdint.h>

enum { BITS = 32, MOST_DEGREE = 7 };

/* Of dimensions 2, 3, ...: degree of the primitive polynomial, its inner coefficients as bits, the first odd numbers m. */
static const struct {
  unsigned degree, inner;
  uint32_t m[MOST_DEGREE];
} table[SOBOL_DIMENSIONS - 1] = {
    {1, 0, {1}},
    {2, 1, {1, 3}},
    {3, 1, {1, 3, 1}},
    {3, 2, {1, 1, 1}},
    {4, 1, {1, 1, 3, 3}},
    {4, 4, {1, 3, 5, 13}},
    {5, 2, {1, 1, 5, 5, 17}},
    {5, 4, {1, 1, 5, 5, 5}},
    {5, 7, {1, 1, 7, 11, 19}},
    {5, 11, {1, 1, 5, 1, 1}},
    {5, 13, {1, 1, 1, 3, 11}},
    {5, 14, {1, 3, 5, 5, 31}},
    {6, 1, {1, 3, 3, 9, 7, 49}},
    {6, 13, {1, 1, 1, 15, 21, 21}},
    {6, 16, {1, 3, 1, 13, 27, 49}},
    {6, 19, {1, 1, 1, 15, 7, 5}},
    {6, 22, {1, 3, 1, 15, 13, 25}},
    {6, 25, {1, 1, 5, 5, 19, 61}},
    {7, 1, {1, 3, 7, 11, 23, 15, 103}},
    {7, 4, {1, 3, 7, 13, 13, 15, 69}},
    {7, 7, {1, 1, 3, 13, 7, 35, 63}},
    {7, 8, {1, 3, 5, 9, 1, 25, 53}},
    {7, 14, {1, 3, 1, 13, 9, 35, 107}},
    {7, 19, {1, 3, 1, 5, 27, 61, 31}},
    {7, 21, {1, 1, 5, 11, 19, 41, 61}},
    {7, 28, {1, 3, 5, 3, 3, 13, 69}},
    {7, 31, {1, 1, 7, 13, 1, 19, 1}},
    {7, 32, {1, 3, 7, 5, 13, 19, 59}},
    {7, 37, {1, 1, 3, 9, 25, 29, 41}},
    {7, 41, {1, 3, 5, 13, 23, 1, 55}},
    {7, 42, {1, 3, 7, 3, 13, 59, 17}},
};

/* Direction numbers v_1 ... v_32: v_i = m_i 2^(32-i), continued by the recurrence of the polynomial. */
static void directions(size_t dimension, uint32_t v[BITS])
{
  if (dimension == 0) { /* van der Corput's sequence */
    for (unsigned i = 0; i < BITS; i++)
      v[i] = 1u << (BITS - 1 - i);
    return;
  }
  const unsigned s = table[dimension - 1].degree, a = table[dimension - 1].inner;
  for (unsigned i = 0; i < s && i < MOST_DEGREE; i++) /* the second for compilers that do not see how large s gets */
    v[i] = table[dimension - 1].m[i] << (BITS - 1 - i);
  for (unsigned i = s; i < BITS; i++) {
    v[i] = v[i - s] ^ (v[i - s] >> s);
    for (unsigned k = 1; k < s; k++)
      if ((a >> (s - 1 - k)) & 1u)
        v[i] ^= v[i - k];
  }
}

double sobol_coordinate(size_t dimension, size_t index)
{
  uint32_t v[BITS], x = 0;
  const uint32_t gray = (uint32_t)(index ^ (index >> 1)); /* the order of Antonov and Saleev: point i differs from i - 1 in one direction */
  directions(dimension, v);
  for (unsigned bit = 0; bit < BITS; bit++)
    if ((gray >> bit) & 1u)
      x ^= v[bit];
  return (double)x / 4294967296.0;
}
