#include "io/check_command.h"

#include <errno.h>
#include <stdlib.h>
#include <sys/stat.h>

#include "io/case_check.h"
#include "io/pictures.h"
#include "io/result_dir.h"
#include "solver/run_layers.h"

/* Draws DIR/pictures/section.png and says where. Results of another case in DIR are left as they are: then nothing is drawn, with a remark. */
static status draw(const char *dir, const char *resolved, const case_file *c, char path[WHOLE_FILE_PATH], message *msg)
{
  char folder[WHOLE_FILE_PATH];
  mesh *m = NULL;
  int lock = -1;
  path[0] = 0;
  status code = run_layers_mesh(&m, &c->rig, msg);
  if (code == STATUS_OK)
    code = result_dir_claim(dir, resolved, &lock, msg);
  if (code == STATUS_BAD_INPUT && m) {
    (void)fprintf(stderr, "lastwater: no picture was drawn: %s\n", msg->text);
    mesh_destroy(&m);
    return STATUS_OK;
  }
  if (code == STATUS_OK)
    code = whole_file_join(folder, dir, "pictures", msg);
  if (code == STATUS_OK && mkdir(folder, 0777) != 0 && errno != EEXIST)
    code = whole_file_fault(msg, "make the directory", folder, errno);
  if (code == STATUS_OK)
    code = whole_file_join(path, folder, "section.png", msg);
  if (code == STATUS_OK)
    code = pictures_section(path, &c->rig, m, msg);
  result_dir_release(&lock);
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
  char dir[WHOLE_FILE_PATH], path[WHOLE_FILE_PATH] = "";
  char *resolved = NULL;
  status code = case_facts_create(&f, c, msg);
  if (code == STATUS_OK)
    code = print(o, c, f, msg);
  if (code == STATUS_OK)
    code = result_dir_name(dir, c->path, o->directory, msg);
  if (code == STATUS_OK)
    code = case_file_resolved(c, &resolved, msg);
  if (code == STATUS_OK)
    code = draw(dir, resolved, c, path, msg);
  if (code == STATUS_OK && path[0] && !o->json && !o->quiet)
    (void)printf("\nThe section as understood is drawn in %s\n", path);
  free(resolved);
  case_facts_destroy(&f);
  return code;
}
