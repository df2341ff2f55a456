#include "io/ledger.h"

#include <dirent.h>
#include <errno.h>
#include <fcntl.h>
#include <stdbool.h>
#include <stdlib.h>
#include <string.h>
#include <sys/file.h>
#include <sys/stat.h>
#include <unistd.h>

#include "io/text_hash.h"
#include "io/whole_file.h"

#define ENDING ".journal"
static const char HEAD[] = "lastwater ledger 1 ";
enum { HEAD_LENGTH = sizeof HEAD - 1 + 16 + 1, CHECK = 16 };

typedef struct {
  uint64_t key;
  ledger_state state; /* LEDGER_TO_DO: the place is free */
  size_t text;        /* offset into texts               */
} entry;

struct ledger {
  uint64_t identity;
  int file;           /* the own journal; -1: read only  */
  char path[WHOLE_FILE_PATH];
  size_t num, room;   /* room: a power of two            */
  entry *entries;
  char *texts;
  size_t num_text, text_room;
  size_t num_of[3], num_twice;
  double wall;
};

/* ------------------------------------------------------------------------------------------------ what is known */

static size_t place_of(const ledger *l, uint64_t key)
{
  size_t i = (size_t)(key * 0x9E3779B97F4A7C15u >> 20) & (l->room - 1);
  while (l->entries[i].state != LEDGER_TO_DO && l->entries[i].key != key)
    i = (i + 1) & (l->room - 1);
  return i;
}

static status grow(ledger *l, message *msg)
{
  ledger bigger = *l;
  bigger.room = l->room ? 2 * l->room : 256;
  bigger.entries = calloc(bigger.room, sizeof *bigger.entries);
  if (!bigger.entries)
    return message_set(msg, STATUS_NO_MEMORY, "out of memory: %zu bytes for the ledger", bigger.room * sizeof *bigger.entries);
  for (size_t i = 0; i < l->room; i++)
    if (l->entries[i].state != LEDGER_TO_DO)
      bigger.entries[place_of(&bigger, l->entries[i].key)] = l->entries[i];
  free(l->entries);
  *l = bigger;
  return STATUS_OK;
}

static status keep_text(ledger *l, const char *text, size_t n, size_t *offset, message *msg)
{
  if (l->num_text + n + 1 > l->text_room) {
    const size_t room = 2 * (l->num_text + n + 1) + 4096;
    char *more = realloc(l->texts, room);
    if (!more)
      return message_set(msg, STATUS_NO_MEMORY, "out of memory: %zu bytes for the ledger", room);
    l->texts = more;
    l->text_room = room;
  }
  *offset = l->num_text;
  memcpy(l->texts + l->num_text, text, n);
  l->texts[l->num_text + n] = 0;
  l->num_text += n + 1;
  return STATUS_OK;
}

static status remember(ledger *l, uint64_t key, ledger_state state, double wall, const char *text, size_t n, message *msg)
{
  status code = 2 * (l->num + 1) > l->room ? grow(l, msg) : STATUS_OK;
  if (code != STATUS_OK)
    return code;
  const size_t i = place_of(l, key);
  if (l->entries[i].state != LEDGER_TO_DO) {
    l->num_twice++;
    return STATUS_OK;
  }
  size_t offset = 0;
  code = keep_text(l, text, n, &offset, msg);
  if (code == STATUS_OK) {
    l->entries[i] = (entry){.key = key, .state = state, .text = offset};
    l->num++;
    l->num_of[state]++;
    l->wall += wall;
  }
  return code;
}

ledger_state ledger_state_of(const ledger *l, uint64_t key)
{
  return l->room ? l->entries[place_of(l, key)].state : LEDGER_TO_DO;
}

const char *ledger_payload(const ledger *l, uint64_t key)
{
  const entry *e = l->room ? &l->entries[place_of(l, key)] : NULL;
  return e && e->state != LEDGER_TO_DO ? l->texts + e->text : NULL;
}

size_t ledger_num(const ledger *l, ledger_state state) { return l->num_of[state]; }
size_t ledger_num_twice(const ledger *l) { return l->num_twice; }
double ledger_wall(const ledger *l) { return l->wall; }

/* ------------------------------------------------------------------------------------------------ lines */

static bool read_hex(const char *text, uint64_t *value)
{
  *value = 0;
  for (int i = 0; i < 16; i++) {
    const char *digit = text[i] ? strchr("0123456789abcdef", text[i]) : NULL;
    if (!digit)
      return false;
    *value = *value * 16 + (uint64_t)(digit - "0123456789abcdef");
  }
  return true;
}

/* One line without its end. False: it is not sound. */
static bool take_line(ledger *l, const char *line, size_t n, status *code, message *msg)
{
  uint64_t check, key;
  char *end = NULL;
  if (n < CHECK + 1 + 16 + 1 || !read_hex(line, &check) || check != text_hash_bytes(line + CHECK + 1, n - CHECK - 1) ||
      !read_hex(line + CHECK + 1, &key))
    return false;
  const char *p = line + CHECK + 1 + 16 + 1;
  const bool done = strncmp(p, "done ", 5) == 0;
  if (!done && strncmp(p, "failed ", 7) != 0)
    return false;
  p += done ? 5 : 7;
  const double wall = strtod(p, &end);
  if (end == p || *end != ' ')
    return false;
  end++;
  *code = remember(l, key, done ? LEDGER_DONE : LEDGER_FAILED, wall, end, (size_t)(line + n - end), msg);
  return true;
}

/* Reads the sound lines of a journal; *sound: bytes up to the end of the last of them. */
static status read_journal(ledger *l, const char *path, size_t *sound, message *msg)
{
  char *text = NULL, head[HEAD_LENGTH + 1];
  size_t n = 0;
  status code = whole_file_read(path, (size_t)1 << 32, &text, &n, msg);
  *sound = 0;
  if (code != STATUS_OK)
    return code;
  (void)snprintf(head, sizeof head, "%s%016llx\n", HEAD, (unsigned long long)l->identity);
  if (n >= HEAD_LENGTH && memcmp(text, head, HEAD_LENGTH) != 0)
    code = message_set(msg, STATUS_BAD_INPUT, "%s belongs to another plan, case or version of the program; name another directory with -o", path);
  else if (n >= HEAD_LENGTH)
    *sound = HEAD_LENGTH;
  while (code == STATUS_OK && *sound && *sound < n) {
    const char *line = text + *sound, *end = memchr(line, '\n', n - *sound);
    if (!end || !take_line(l, line, (size_t)(end - line), &code, msg))
      break;
    *sound += (size_t)(end - line) + 1;
  }
  free(text);
  return code;
}

/* ------------------------------------------------------------------------------------------------ files */

static int by_name(const void *a, const void *b) { return strcmp(*(char *const *)a, *(char *const *)b); }

/* Names of all journals, in order: the same table whatever order the directory keeps them in. */
static status list_journals(const char *directory, char ***names, size_t *num, message *msg)
{
  DIR *d = opendir(directory);
  size_t room = 0;
  if (!d)
    return whole_file_fault(msg, "read the directory", directory, errno);
  status code = STATUS_OK;
  for (const struct dirent *e; code == STATUS_OK && (e = readdir(d)) != NULL;) {
    const size_t n = strlen(e->d_name), m = strlen(ENDING);
    if (n <= m || strcmp(e->d_name + n - m, ENDING) != 0)
      continue;
    if (*num == room) {
      room = room ? 2 * room : 16;
      char **more = realloc(*names, room * sizeof *more);
      if (!more) {
        code = message_set(msg, STATUS_NO_MEMORY, "out of memory for the names of journals");
        break;
      }
      *names = more;
    }
    (*names)[*num] = malloc(n + 1);
    if ((*names)[*num])
      memcpy((*names)[(*num)++], e->d_name, n + 1);
    else
      code = message_set(msg, STATUS_NO_MEMORY, "out of memory for the names of journals");
  }
  (void)closedir(d);
  if (*num)
    qsort(*names, *num, sizeof **names, by_name);
  return code;
}

static status read_all(ledger *l, const char *directory, const char *own, size_t *own_sound, message *msg)
{
  char **names = NULL, path[WHOLE_FILE_PATH];
  size_t num = 0, sound = 0;
  status code = list_journals(directory, &names, &num, msg);
  for (size_t i = 0; i < num; i++) {
    if (code == STATUS_OK)
      code = whole_file_join(path, directory, names[i], msg);
    if (code == STATUS_OK)
      code = read_journal(l, path, &sound, msg);
    if (code == STATUS_OK && own && strcmp(names[i], own) == 0)
      *own_sound = sound;
    free(names[i]);
  }
  free(names);
  return code;
}

static status write_bytes(ledger *l, const char *bytes, size_t n, message *msg)
{
  size_t done = 0;
  while (done < n) {
    const ssize_t k = write(l->file, bytes + done, n - done);
    if (k < 0 && errno == EINTR)
      continue;
    if (k <= 0)
      return whole_file_fault(msg, "write", l->path, k < 0 ? errno : EIO);
    done += (size_t)k;
  }
  return fdatasync(l->file) == 0 ? STATUS_OK : whole_file_fault(msg, "write", l->path, errno);
}

/* Opens the own journal behind its last sound line; a new one gets its head. */
static status open_own(ledger *l, size_t sound, message *msg)
{
  char head[HEAD_LENGTH + 1];
  l->file = open(l->path, O_WRONLY | O_CREAT | O_CLOEXEC | O_APPEND, 0666);
  if (l->file < 0)
    return whole_file_fault(msg, "open", l->path, errno);
  if (flock(l->file, LOCK_EX | LOCK_NB) != 0 && errno == EWOULDBLOCK)
    return message_set(msg, STATUS_BAD_INPUT, "another lastwater writes to %s; wait for it", l->path);
  if (ftruncate(l->file, (off_t)sound) != 0)
    return whole_file_fault(msg, "cut", l->path, errno);
  (void)snprintf(head, sizeof head, "%s%016llx\n", HEAD, (unsigned long long)l->identity);
  return sound ? STATUS_OK : write_bytes(l, head, HEAD_LENGTH, msg);
}

status ledger_open(ledger **out, const char *directory, uint64_t identity, const char *journal, message *msg)
{
  char name[128];
  size_t sound = 0;
  ledger *l = calloc(1, sizeof *l);
  if (!l)
    return message_set(msg, STATUS_NO_MEMORY, "out of memory for the ledger");
  l->file = -1;
  l->identity = identity;
  (void)snprintf(name, sizeof name, "%s" ENDING, journal ? journal : "");
  status code = mkdir(directory, 0777) == 0 || errno == EEXIST ? STATUS_OK : whole_file_fault(msg, "make the directory", directory, errno);
  if (code == STATUS_OK)
    code = read_all(l, directory, name, &sound, msg);
  if (code == STATUS_OK && journal)
    code = whole_file_join(l->path, directory, name, msg);
  if (code == STATUS_OK && journal)
    code = open_own(l, sound, msg);
  if (code == STATUS_OK)
    *out = l;
  else
    ledger_close(&l);
  return code;
}

void ledger_close(ledger **l)
{
  if (!*l)
    return;
  if ((*l)->file >= 0)
    (void)close((*l)->file); /* all lines are on the disk */
  free((*l)->entries);
  free((*l)->texts);
  free(*l);
  *l = NULL;
}

status ledger_write(ledger *l, uint64_t key, ledger_state state, double wall, const char *text, message *msg)
{
  const size_t room = strlen(text) + 96;
  char *line = malloc(room);
  if (!line)
    return message_set(msg, STATUS_NO_MEMORY, "out of memory: %zu bytes for a line of the ledger", room);
  int n = snprintf(line + CHECK + 1, room - CHECK - 1, "%016llx %s %.3f %s", (unsigned long long)key, state == LEDGER_DONE ? "done" : "failed",
                   wall, text);
  for (char *c = line + CHECK + 1; *c; c++)
    if (*c == '\n' || *c == '\r')
      *c = ' ';
  char check[CHECK + 1];
  (void)snprintf(check, sizeof check, "%016llx", (unsigned long long)text_hash_bytes(line + CHECK + 1, (size_t)n));
  memcpy(line, check, CHECK);
  line[CHECK] = ' ';
  n += CHECK + 1;
  line[n] = '\n';
  status code = write_bytes(l, line, (size_t)n + 1, msg);
  if (code == STATUS_OK)
    code = remember(l, key, state, wall, text, strlen(text), msg);
  free(line);
  return code;
}
