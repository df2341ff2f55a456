/* Rows of numbers and words from tests/data: commas between fields, '#' starts a comment line. */
#ifndef LASTWATER_TESTS_CHECK_ROWS_H
#define LASTWATER_TESTS_CHECK_ROWS_H

#include <math.h>
#include <stddef.h>

enum { CHECK_FIELDS = 14, CHECK_ROWS = 400 };
typedef struct {
  size_t num;
  struct { char word[CHECK_FIELDS][40]; double value[CHECK_FIELDS]; } row[CHECK_ROWS]; /* value NAN where no number stands */
} check_rows;

/* Reads a whole file of tests/data; fails the test when it is missing, empty or too long. The same object every call. */
const check_rows *check_rows_read(const char *file);

#define assert_near(got, want, tol) ck_assert_double_eq_tol((got), (want), (tol))
#define assert_close(got, want, rel) ck_assert_double_eq_tol((got), (want), (rel) * fabs(want))

/* After check_rows_fail_allocation(n) the n-th malloc from now (1: the next) returns NULL, once; 0: none. Returns false where
 * allocations cannot be made to fail (address sanitizer). */
int check_rows_fail_allocation(int n);

#endif
