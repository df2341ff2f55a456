#include "io/check_command.h"

#include <stdlib.h>
#include <string.h>

#include "io/case_check.h"
#include "io/pictures.h"
#include "io/whole_file.h"
#include "solver/run_layers.h"

/* "rigs/drum.yaml" -> "rigs/drum.section.png"; with -o: DIR/section.png. */
static status picture_path(char path[WHOLE_FILE_PATH], const options *o, const case_file *c, message *msg)
{
  if (o->directory)
    return whole_file_join(path, o->directory, "section.png", msg);
  size_t n = strlen(c->path);
  const char *const endings[] = {".yaml", ".yml"};
  for (size_t i = 0; i < 2; i++) {
    const size_t k = strlen(endings[i]);
    if (n > k && strcmp(c->path + n - k, endings[i]) == 0) {
      n -= k;
      break;
    }
  }
  if (n + strlen(".section.png") + 1 > WHOLE_FILE_PATH)
    return message_set(msg, STATUS_FILE, "the name of the case file is too long");
  (void)snprintf(path, WHOLE_FILE_PATH, "%.*s.section.png", (int)n, c->path);
  return STATUS_OK;
}

static status draw(const char *path, const case_file *c, message *msg)
{
  mesh *m = NULL;
  status code = run_layers_mesh(&m, &c->rig, msg);
  if (code == STATUS_OK)
    code = pictures_section(path, &c->rig, m, msg);
  mesh_destroy(&m);
  return code;
}

static status print(const options *o, const case_file *c, const case_facts *f, message *msg)
{
  char *text = NULL;
  status code = STATUS_OK;
  bool written = true;
  if (o->json) {
    code = case_check_json(&text, c, f, msg);
    written = code != STATUS_OK || fputs(text, stdout) >= 0;
  } else {
    written = case_check_print(stdout, c, f);
  }
  free(text);
  if (code == STATUS_OK && (!written || fflush(stdout) != 0))
    code = message_set(msg, STATUS_FILE, "the explanation could not be written to the standard output");
  return code;
}

status check_command(const options *o, const case_file *c, message *msg)
{
  case_facts *f = NULL;
  char path[WHOLE_FILE_PATH];
  status code = case_facts_create(&f, c, msg);
  if (code == STATUS_OK)
    code = print(o, c, f, msg);
  if (code == STATUS_OK)
    code = picture_path(path, o, c, msg);
  if (code == STATUS_OK)
    code = draw(path, c, msg);
  if (code == STATUS_OK && !o->json && !o->quiet)
    (void)printf("\nThe section as understood is drawn in %s\n", path);
  case_facts_destroy(&f);
  return code;
}
