/* Vectors as wide as the processor's own, for loops that a compiler does not make of plain ones. Wider than that, values go through memory
 * and comparisons are made one by one; and no result depends on the width. */
#ifndef LASTWATER_WIDE_H
#define LASTWATER_WIDE_H

#include <stdint.h>

#if defined __AVX512F__
#define WIDE 8 /* doubles */
#elif defined __AVX__
#define WIDE 4
#else
#define WIDE 2
#endif

typedef double wide __attribute__((vector_size(WIDE * sizeof(double))));
typedef int64_t wide_masks __attribute__((vector_size(WIDE * sizeof(int64_t))));
typedef int32_t wide_integers __attribute__((vector_size(WIDE * sizeof(int32_t))));
typedef double wide_in_row __attribute__((vector_size(WIDE * sizeof(double)), aligned(8), may_alias));

static inline __attribute__((always_inline)) wide wide_read(const double *at)
{
  return *(const wide_in_row *)at;
}

static inline __attribute__((always_inline)) void wide_write(double *at, wide values)
{
  *(wide_in_row *)at = values;
}

#endif
