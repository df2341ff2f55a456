/* The larger and the smaller of two numbers; b where one of them is NAN. Not the library's: those are real calls under strict flags. */
#ifndef LASTWATER_LARGER_H
#define LASTWATER_LARGER_H

static inline double larger(double a, double b)
{
  return a > b ? a : b;
}

static inline double smaller(double a, double b)
{
  return a < b ? a : b;
}

#endif
