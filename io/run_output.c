#include "io/run_output.h"

#include <stdlib.h>
#include <string.h>

#include "io/cold_table.h"
#include "io/pictures.h"
#include "io/report_page.h"
#include "io/series_csv.h"
#include "io/summary_text.h"
#include "io/whole_file.h"
#include "io/xdmf.h"

static status write_text(const char *directory, const char *name, const char *text, message *msg)
{
  char path[WHOLE_FILE_PATH];
  const status code = whole_file_join(path, directory, name, msg);
  return code == STATUS_OK ? whole_file_write(path, text, strlen(text), msg) : code;
}

static status write_series(const char *directory, const time_series *s, message *msg)
{
  char path[WHOLE_FILE_PATH];
  const status code = whole_file_join(path, directory, SERIES_CSV_NAME, msg);
  return code == STATUS_OK ? series_csv_write(path, s, msg) : code;
}

static status write_ledger(const char *directory, const results *res, message *msg)
{
  char path[WHOLE_FILE_PATH];
  const status code = whole_file_join(path, directory, COLD_TABLE_NAME, msg);
  return code == STATUS_OK ? cold_table_write(path, res, msg) : code;
}

static status write_xdmf(const char *directory, message *msg)
{
  char path[WHOLE_FILE_PATH], fields[WHOLE_FILE_PATH];
  status code = whole_file_join(path, directory, XDMF_NAME, msg);
  if (code == STATUS_OK)
    code = whole_file_join(fields, directory, FIELD_STORE_NAME, msg);
  return code == STATUS_OK ? xdmf_write(path, fields, FIELD_STORE_NAME, msg) : code;
}

static status write_page(const char *directory, const case_file *c, const mesh *m, message *msg)
{
  char path[WHOLE_FILE_PATH];
  const report_page_run one = {.directory = directory, .label = c->rig.title, .of = c, .mesh = m};
  const status code = whole_file_join(path, directory, REPORT_PAGE_NAME, msg);
  return code == STATUS_OK ? report_page_write(path, &one, msg) : code;
}

status run_output_write(run_output *out, const char *directory, const case_file *c, const run *x, field_store **fields,
                        const provenance *p, message *msg)
{
  const rig *r = &c->rig;
  const results *res = run_results(x);
  *out = (run_output){NULL, NULL};
  status code = summary_json_text(&out->json, r, res, p, msg);
  if (code == STATUS_OK)
    code = summary_text_make(&out->text, r, res, msg);
  if (code == STATUS_OK)
    code = field_store_finish(fields, res, msg);
  if (code == STATUS_OK)
    code = write_series(directory, &res->series, msg);
  if (code == STATUS_OK)
    code = write_ledger(directory, res, msg);
  if (code == STATUS_OK)
    code = field_store_publish(directory, msg);
  if (code == STATUS_OK)
    code = write_xdmf(directory, msg);
  if (code == STATUS_OK)
    code = write_text(directory, SUMMARY_TEXT_NAME, out->text, msg);
  if (code == STATUS_OK)
    code = write_text(directory, SUMMARY_JSON_NAME, out->json, msg);
  if (code == STATUS_OK)
    code = pictures_draw(directory, r, x, msg);
  if (code == STATUS_OK)
    code = write_page(directory, c, run_mesh(x), msg);
  if (code != STATUS_OK)
    run_output_release(out);
  return code;
}

void run_output_release(run_output *out)
{
  free(out->json);
  free(out->text);
  *out = (run_output){NULL, NULL};
}
