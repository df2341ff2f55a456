#include "io/stored_run.h"

#include <stdlib.h>
#include <string.h>

#include "io/field_store.h"
#include "io/result_dir.h"
#include "io/summary_json.h"
#include "solver/run_layers.h"

/* "rigs/drum.result/" -> "drum". */
static void name_of(const char *directory, char *name, size_t size)
{
  size_t end = strlen(directory);
  while (end > 1 && directory[end - 1] == '/')
    end--;
  size_t from = end;
  while (from > 0 && directory[from - 1] != '/')
    from--;
  static const char ending[] = ".result";
  const size_t drop = sizeof ending - 1;
  if (end - from > drop && strncmp(directory + end - drop, ending, drop) == 0)
    end -= drop;
  (void)snprintf(name, size, "%.*s", (int)(end - from), directory + from);
}

static status must_have(const char *directory, const char *name, message *msg)
{
  char path[WHOLE_FILE_PATH];
  const status code = whole_file_join(path, directory, name, msg);
  if (code != STATUS_OK || whole_file_exists(path))
    return code;
  return message_set(msg, STATUS_BAD_INPUT, "%s holds no %s, so it is not the directory of a finished run; lastwater run CASE -o DIR makes one",
                     directory, name);
}

static status read_case(stored_run *s, message *msg)
{
  char path[WHOLE_FILE_PATH], *faults = NULL;
  status code = whole_file_join(path, s->directory, RESULT_DIR_CASE, msg);
  if (code == STATUS_OK)
    code = case_file_read(&s->of, path, NULL, 0, &faults, msg);
  if (faults)
    (void)message_set(msg, code, "%.*s", (int)strcspn(faults, "\n"), faults);
  free(faults);
  return code;
}

static status read_summary(stored_run *s, message *msg)
{
  char path[WHOLE_FILE_PATH];
  json_error_t error;
  const status code = whole_file_join(path, s->directory, SUMMARY_JSON_NAME, msg);
  if (code != STATUS_OK)
    return code;
  s->summary = json_load_file(path, JSON_REJECT_DUPLICATES, &error);
  if (!s->summary)
    return message_set(msg, STATUS_BAD_INPUT, "%s:%d: %.200s", path, error.line, error.text);
  const json_int_t format = json_integer_value(json_object_get(s->summary, "format"));
  return format == SUMMARY_JSON_FORMAT ? STATUS_OK
                                       : message_set(msg, STATUS_BAD_INPUT, "%s has format %lld and this program knows %d", path, (long long)format,
                                                     SUMMARY_JSON_FORMAT);
}

status stored_run_open(stored_run *out, const char *directory, message *msg)
{
  static const char *const needed[] = {RESULT_DIR_CASE, SUMMARY_JSON_NAME, FIELD_STORE_NAME};
  stored_run s = {.of = NULL};
  status code = strlen(directory) < sizeof s.directory ? STATUS_OK : message_set(msg, STATUS_BAD_INPUT, "the name of the directory is too long");
  if (code == STATUS_OK) {
    (void)strcpy(s.directory, directory);
    name_of(directory, s.label, sizeof s.label);
  }
  for (size_t i = 0; code == STATUS_OK && i < sizeof needed / sizeof *needed; i++)
    code = must_have(directory, needed[i], msg);
  if (code == STATUS_OK)
    code = read_case(&s, msg);
  if (code == STATUS_OK)
    code = read_summary(&s, msg);
  if (code == STATUS_OK)
    code = run_layers_mesh(&s.mesh, &s.of->rig, msg);
  if (code == STATUS_OK)
    *out = s;
  else
    stored_run_close(&s);
  return code;
}

void stored_run_close(stored_run *s)
{
  mesh_destroy(&s->mesh);
  case_file_destroy(&s->of);
  json_decref(s->summary);
  *s = (stored_run){.of = NULL};
}
