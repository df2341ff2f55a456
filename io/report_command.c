#include "io/report_command.h"

#include <stdlib.h>
#include <string.h>

#include "io/pictures.h"
#include "io/report_page.h"
#include "io/stored_results.h"

static status write_page(const stored_run *s, char path[WHOLE_FILE_PATH], message *msg)
{
  const report_page_run one = {.directory = s->directory, .label = s->label, .of = s->of, .mesh = s->mesh};
  const status code = whole_file_join(path, s->directory, REPORT_PAGE_NAME, msg);
  return code == STATUS_OK ? report_page_write(path, &one, msg) : code;
}

static status draw(const options *o, const stored_run *s, message *msg)
{
  stored_results r;
  status code = stored_results_read(&r, s, msg);
  const pictures_source from = {.dir = s->directory, .rig = &s->of->rig, .mesh = s->mesh, .results = &r.results,
                                .temperature = r.temperature, .liquid_fraction = r.liquid_fraction, .time = r.time,
                                .at = o->at, .num_at = o->num_at};
  if (code == STATUS_OK)
    code = pictures_draw_stored(&from, "png", msg);
  if (code == STATUS_OK && o->vector)
    code = pictures_draw_stored(&from, o->vector, msg);
  stored_results_release(&r);
  return code;
}

status report_command(const options *o, message *msg)
{
  char path[WHOLE_FILE_PATH];
  stored_run s;
  status code = stored_run_open(&s, o->words[0], msg);
  if (code != STATUS_OK)
    return code;
  code = draw(o, &s, msg);
  if (code == STATUS_OK)
    code = write_page(&s, path, msg);
  if (code == STATUS_OK && !o->quiet && (printf("%s and the pictures beside it are made again%s%s.\n", path, o->vector ? ", also as " : "", o->vector ? o->vector : "") < 0 ||
                                         fflush(stdout) != 0))
    code = message_set(msg, STATUS_FILE, "cannot write to the standard output");
  stored_run_close(&s);
  return code;
}
