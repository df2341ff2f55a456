#define _XOPEN_SOURCE 700
#include "scratch.h"

#include <dirent.h>
#include <ftw.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <sys/stat.h>
#include <unistd.h>

static void must(bool ok, const char *what)
{
  if (!ok) {
    perror(what);
    abort();
  }
}

void scratch_create(char directory[SCRATCH_PATH])
{
  const char *where = getenv("TMPDIR");
  (void)snprintf(directory, SCRATCH_PATH, "%s/lastwater_test_XXXXXX", where && where[0] ? where : "/tmp");
  must(mkdtemp(directory) != NULL, directory);
}

static int remove_one(const char *path, const struct stat *s, int kind, struct FTW *at)
{
  (void)s;
  (void)kind;
  (void)at;
  return remove(path);
}

void scratch_remove(const char *directory)
{
  (void)nftw(directory, remove_one, 16, FTW_DEPTH | FTW_PHYS);
}

static void join(char path[2 * SCRATCH_PATH], const char *directory, const char *name)
{
  (void)snprintf(path, 2 * SCRATCH_PATH, "%s/%s", directory, name);
}

char *scratch_read(const char *directory, const char *name, size_t *num_bytes)
{
  char path[2 * SCRATCH_PATH];
  join(path, directory, name);
  FILE *f = fopen(path, "rb");
  if (!f)
    return NULL;
  must(fseek(f, 0, SEEK_END) == 0, path);
  const long size = ftell(f);
  must(size >= 0 && fseek(f, 0, SEEK_SET) == 0, path);
  char *bytes = malloc((size_t)size + 1);
  must(bytes != NULL && fread(bytes, 1, (size_t)size, f) == (size_t)size, path);
  (void)fclose(f);
  bytes[size] = '\0';
  if (num_bytes)
    *num_bytes = (size_t)size;
  return bytes;
}

void scratch_write(const char *directory, const char *name, const void *bytes, size_t num_bytes)
{
  char path[2 * SCRATCH_PATH];
  join(path, directory, name);
  FILE *f = fopen(path, "wb");
  must(f != NULL, path);
  must(fwrite(bytes, 1, num_bytes, f) == num_bytes && fclose(f) == 0, path);
}

bool scratch_has(const char *directory, const char *name)
{
  char path[2 * SCRATCH_PATH];
  struct stat s;
  join(path, directory, name);
  return lstat(path, &s) == 0;
}

size_t scratch_num_entries(const char *directory)
{
  DIR *d = opendir(directory);
  must(d != NULL, directory);
  size_t num = 0;
  for (struct dirent *e = readdir(d); e; e = readdir(d))
    num += strcmp(e->d_name, ".") != 0 && strcmp(e->d_name, "..") != 0;
  (void)closedir(d);
  return num;
}

void scratch_limit_files(size_t num_bytes)
{
  const struct rlimit limit = {.rlim_cur = num_bytes, .rlim_max = RLIM_INFINITY};
  must(signal(SIGXFSZ, SIG_IGN) != SIG_ERR && setrlimit(RLIMIT_FSIZE, &limit) == 0, "setrlimit");
}
