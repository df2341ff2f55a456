#define _XOPEN_SOURCE 700
#include "outside_reader.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

double *outside_reader_numbers(const char *file, const char *set, int single, size_t *num)
{
  char out[] = "/tmp/lastwater_dump_XXXXXX", command[2048];
  const int fd = mkstemp(out);
  if (fd < 0)
    return NULL;
  (void)snprintf(command, sizeof command, "h5dump -d '%s' -b LE -o %s '%s' >/dev/null 2>&1", set, out, file);
  double *numbers = NULL;
  const size_t width = single ? sizeof(float) : sizeof(double);
  if (system(command) == 0) {
    const off_t size = lseek(fd, 0, SEEK_END);
    unsigned char *raw = malloc((size_t)size + 1);
    *num = (size_t)size / width;
    numbers = malloc((*num + 1) * sizeof *numbers);
    if (!raw || !numbers || pread(fd, raw, (size_t)size, 0) != size)
      abort();
    for (size_t i = 0; i < *num; i++) {
      float f;
      if (single) {
        memcpy(&f, raw + i * width, width);
        numbers[i] = (double)f;
      } else {
        memcpy(&numbers[i], raw + i * width, width);
      }
    }
    free(raw);
  }
  (void)close(fd);
  (void)unlink(out);
  return numbers;
}

/* The first line of a command's output that holds `mark`, from there on. */
static void ask(const char *command, const char *mark, char *text, size_t size)
{
  char line[4096];
  text[0] = '\0';
  FILE *p = popen(command, "r");
  if (!p)
    abort();
  while (fgets(line, sizeof line, p)) {
    const char *at = strstr(line, mark);
    if (at && !text[0])
      (void)snprintf(text, size, "%s", at);
  }
  (void)pclose(p);
}

void outside_reader_extents(const char *file, const char *set, char *text, size_t size)
{
  char command[2048];
  (void)snprintf(command, sizeof command, "h5ls '%s%s' 2>/dev/null", file, set);
  ask(command, "{", text, size);
  text[strcspn(text, "\n")] = '\0';
}

void outside_reader_attribute(const char *file, const char *object_and_attribute, char *text, size_t size)
{
  char command[2048];
  (void)snprintf(command, sizeof command, "h5dump -a '%s' '%s' 2>/dev/null", object_and_attribute, file);
  ask(command, "(0): ", text, size);
  if (text[0])
    memmove(text, text + strlen("(0): "), strlen(text + strlen("(0): ")) + 1);
  text[strcspn(text, "\n")] = '\0';
}
