#include "io/compare_command.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

#include "io/compare_table.h"
#include "io/report_page.h"

/* Directories of the same name, as A/case.result and B/case.result, are told by their whole path. */
static void tell_apart(stored_run *runs, size_t num)
{
  bool alike = false;
  for (size_t i = 0; i < num; i++)
    for (size_t j = 0; j < i; j++)
      alike = alike || strcmp(runs[i].label, runs[j].label) == 0;
  for (size_t i = 0; alike && i < num; i++) {
    const size_t length = strlen(runs[i].directory), room = sizeof runs[i].label - 1;
    (void)snprintf(runs[i].label, sizeof runs[i].label, "%s", runs[i].directory + (length > room ? length - room : 0));
  }
}

static status page_path(char path[WHOLE_FILE_PATH], const options *o, message *msg)
{
  const char *folder = o->directory ? o->directory : ".";
  if (o->directory && mkdir(folder, 0777) != 0 && errno != EEXIST)
    return whole_file_fault(msg, "make the directory", folder, errno);
  return whole_file_join(path, folder, COMPARE_PAGE_NAME, msg);
}

static status write_page(const char *path, const stored_run *runs, size_t num, const char *json, message *msg)
{
  report_page_run *shown = calloc(num, sizeof *shown);
  if (!shown)
    return message_set(msg, STATUS_NO_MEMORY, "out of memory for the page");
  for (size_t i = 0; i < num; i++)
    shown[i] = (report_page_run){.directory = runs[i].directory, .label = runs[i].label, .of = runs[i].of, .mesh = runs[i].mesh};
  const status code = report_page_compare(path, shown, num, json, msg);
  free(shown);
  return code;
}

static status tell(const options *o, const compare_table *t, const char *json, const char *path, message *msg)
{
  bool ok = o->json ? printf("%s\n", json) > 0 : compare_table_print(stdout, t);
  if (!o->json && !o->quiet)
    ok = printf("\nSide by side: %s\n", path) > 0 && ok;
  return ok && fflush(stdout) == 0 ? STATUS_OK : message_set(msg, STATUS_FILE, "cannot write to the standard output; the page is %s", path);
}

status compare_command(const options *o, message *msg)
{
  char path[WHOLE_FILE_PATH], *json = NULL;
  compare_table *t = NULL;
  stored_run *runs = calloc(o->num_words, sizeof *runs);
  status code = runs ? STATUS_OK : message_set(msg, STATUS_NO_MEMORY, "out of memory for the runs");
  for (size_t i = 0; code == STATUS_OK && i < o->num_words; i++)
    code = stored_run_open(&runs[i], o->words[i], msg);
  if (code == STATUS_OK) {
    tell_apart(runs, o->num_words);
    code = compare_table_create(&t, runs, o->num_words, msg);
  }
  if (code == STATUS_OK)
    code = compare_table_json(&json, t, msg);
  if (code == STATUS_OK)
    code = page_path(path, o, msg);
  if (code == STATUS_OK)
    code = write_page(path, runs, o->num_words, json, msg);
  if (code == STATUS_OK)
    code = tell(o, t, json, path, msg);
  free(json);
  compare_table_destroy(&t);
  for (size_t i = 0; runs && i < o->num_words; i++)
    stored_run_close(&runs[i]);
  free(runs);
  return code;
}
