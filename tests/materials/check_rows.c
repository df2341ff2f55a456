#include "check_rows.h"

#include <check.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

const check_rows *check_rows_read(const char *file)
{
  static check_rows all;
  char path[512], line[1024];
  all.num = 0;
  (void)snprintf(path, sizeof path, "%s/%s", TEST_DATA, file);
  FILE *f = fopen(path, "r");
  ck_assert_msg(f != NULL, "cannot open %s", path);
  while (fgets(line, sizeof line, f)) {
    if (line[0] == '#' || line[0] == '\n')
      continue;
    ck_assert_uint_lt(all.num, CHECK_ROWS);
    line[strcspn(line, "\r\n")] = '\0';
    char *field = line;
    for (size_t i = 0; i < CHECK_FIELDS; i++) {
      const size_t length = strcspn(field, ",");
      const char stop = field[length];
      field[length] = '\0';
      (void)snprintf(all.row[all.num].word[i], sizeof all.row[0].word[0], "%.39s", field);
      char *end;
      const double value = strtod(field, &end);
      all.row[all.num].value[i] = end != field && *end == '\0' ? value : NAN;
      field += length + (stop == ',');
    }
    all.num++;
  }
  (void)fclose(f);
  ck_assert_uint_gt(all.num, 0);
  return &all;
}

#if defined(__SANITIZE_ADDRESS__) || !defined(__GLIBC__)
int check_rows_fail_allocation(int n)
{
  (void)n;
  return 0;
}
#else
static int countdown;
void *__libc_malloc(size_t size);

/* Stands before the library's own; memory comes from it, so that free needs no twin. */
void *malloc(size_t size)
{
  if (countdown > 0 && --countdown == 0)
    return NULL;
  return __libc_malloc(size);
}

int check_rows_fail_allocation(int n)
{
  countdown = n;
  return 1;
}
#endif
