#include "io/band_command.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>

#include "io/band_tree.h"
#include "io/result_dir.h"
#include "io/run_batch.h"
#include "io/run_command.h"
#include "io/run_pool.h"
#include "io/report_page.h"
#include "io/summary_json.h"
#include "io/summary_text.h"
#include "io/whole_file.h"
#include "solver/run_layers.h"

enum { LONGEST_CASE = 4 << 20, LONGEST_SUMMARY = 64 << 20 };

typedef struct {
  const options *o;
  const case_file *c;
  char directory[WHOLE_FILE_PATH];
  char *case_text;
  size_t case_length;
  band_inputs inputs;
  json_t *summary, *band;
  char *text; /* summary.txt with the band */
} band;

static status read_result(const band *b, const char *name, char **text, message *msg)
{
  char path[WHOLE_FILE_PATH];
  const status code = whole_file_join(path, b->directory, name, msg);
  return code == STATUS_OK ? whole_file_read(path, LONGEST_SUMMARY, text, NULL, msg) : code;
}

static status write_result(const band *b, const char *name, const char *text, message *msg)
{
  char path[WHOLE_FILE_PATH];
  const status code = whole_file_join(path, b->directory, name, msg);
  return code == STATUS_OK ? whole_file_write(path, text, strlen(text), msg) : code;
}

/* ------------------------------------------------------------------------------------------------ the runs */

/* Inputs 2 i and 2 i + 1 at their low and high ends; of two published sources the other alone. */
static status make_runs(band *b, json_t **summaries, message *msg)
{
  const case_file *c = b->c;
  run_batch_run runs[2 * BAND_INPUTS_MOST] = {{0}};
  const char *settings[2 * BAND_INPUTS_MOST], **set = calloc(c->num_overrides + 1, sizeof *set);
  size_t num = 0, of[2 * BAND_INPUTS_MOST];
  if (!set)
    return message_set(msg, STATUS_NO_MEMORY, "out of memory for the band");
  for (size_t i = 0; i < c->num_overrides; i++)
    set[i] = c->overrides[i] + strlen("--set ");
  for (size_t k = 0; k < 2 * b->inputs.num; k++) {
    const band_input *in = &b->inputs.inputs[k / 2];
    if (k % 2 == 0 && in->two)
      continue;
    settings[num] = k % 2 ? in->high : in->low;
    runs[num] = (run_batch_run){.set = &settings[num], .num_set = 1};
    of[num++] = k;
  }
  const run_batch_case all = {c->path, b->case_text, b->case_length, set, c->num_overrides,
                              b->o->jobs > 0 ? (size_t)b->o->jobs : run_pool_processors(), b->o->quiet ? NULL : "band"};
  const status code = run_batch_go(&all, runs, num, msg);
  for (size_t n = 0; n < num; n++) {
    summaries[of[n]] = runs[n].summary;
    if (code == STATUS_OK && !runs[n].summary && !b->o->quiet)
      (void)fprintf(stderr, "lastwater: band: %s: %s\n", settings[n], runs[n].why.text);
  }
  free(set);
  return code;
}

static status find_band(band *b, message *msg)
{
  json_t *summaries[2 * BAND_INPUTS_MOST] = {NULL};
  status code = make_runs(b, summaries, msg);
  if (code == STATUS_OK)
    code = band_tree_make(&b->band, b->summary, summaries, &b->inputs, msg);
  for (size_t k = 0; k < 2 * BAND_INPUTS_MOST; k++)
    json_decref(summaries[k]);
  return code;
}

/* ------------------------------------------------------------------------------------------------ the files */

static status write_json(band *b, message *msg)
{
  char *text = NULL;
  if (json_object_set(b->summary, "band", b->band) != 0 || (text = json_dumps(b->summary, JSON_INDENT(2))) == NULL)
    return message_set(msg, STATUS_NO_MEMORY, "out of memory for the summary");
  const size_t n = strlen(text);
  char *ended = realloc(text, n + 2);
  if (!ended) {
    free(text);
    return message_set(msg, STATUS_NO_MEMORY, "out of memory for the summary");
  }
  memcpy(ended + n, "\n", 2);
  status code = write_result(b, SUMMARY_JSON_NAME, ended, msg);
  if (code == STATUS_OK && b->o->json && (fputs(ended, stdout) < 0 || fflush(stdout) != 0))
    code = message_set(msg, STATUS_FILE, "cannot write the answer to standard output; it is in %s/%s", b->directory, SUMMARY_JSON_NAME);
  free(ended);
  return code;
}

static status write_words(band *b, message *msg)
{
  char *before = NULL, *words = NULL;
  status code = read_result(b, SUMMARY_TEXT_NAME, &before, msg);
  if (code == STATUS_OK)
    code = band_tree_words(&words, b->band, msg);
  if (code == STATUS_OK && (b->text = malloc(strlen(before) + strlen(words) + 2)) == NULL)
    code = message_set(msg, STATUS_NO_MEMORY, "out of memory for the summary");
  if (code == STATUS_OK) {
    (void)sprintf(b->text, "%s\n%s", before, words);
    code = write_result(b, SUMMARY_TEXT_NAME, b->text, msg);
  }
  if (code == STATUS_OK && !b->o->json && (printf("%s\nLook at %s/report.html or pictures/.\n", b->text, b->directory) < 0 || fflush(stdout) != 0))
    code = message_set(msg, STATUS_FILE, "cannot write the answer to standard output; it is in %s/%s", b->directory, SUMMARY_TEXT_NAME);
  free(before);
  free(words);
  return code;
}

/* The run left a page without the band: made again from the summary as it is now. */
static status write_page(const band *b, message *msg)
{
  char path[WHOLE_FILE_PATH];
  mesh *m = NULL;
  status code = whole_file_join(path, b->directory, REPORT_PAGE_NAME, msg);
  if (code == STATUS_OK)
    code = run_layers_mesh(&m, &b->c->rig, msg);
  if (code == STATUS_OK)
    code = report_page_write(path, &(report_page_run){.directory = b->directory, .label = b->c->rig.title, .of = b->c, .mesh = m}, msg);
  mesh_destroy(&m);
  return code;
}

static status read_summary(band *b, message *msg)
{
  char *text = NULL;
  json_error_t error;
  status code = read_result(b, SUMMARY_JSON_NAME, &text, msg);
  if (code == STATUS_OK && (b->summary = json_loads(text, 0, &error)) == NULL)
    code = message_set(msg, STATUS_FAILED, "%s/%s cannot be read back: %s", b->directory, SUMMARY_JSON_NAME, error.text);
  free(text);
  return code;
}

status band_command(const options *o, const case_file *c, message *msg)
{
  options silent = *o;
  band b = {.o = o, .c = c};
  silent.unsaid = true;
  status code = result_dir_name(b.directory, c->path, o->directory, msg);
  if (code == STATUS_OK)
    code = whole_file_read(c->path, LONGEST_CASE, &b.case_text, &b.case_length, msg);
  if (code == STATUS_OK)
    code = band_inputs_find(&b.inputs, c, msg);
  if (code == STATUS_OK)
    code = run_command(&silent, c, msg);
  if (code == STATUS_OK)
    code = read_summary(&b, msg);
  if (code == STATUS_OK)
    code = find_band(&b, msg);
  if (code == STATUS_OK)
    code = write_json(&b, msg);
  if (code == STATUS_OK)
    code = write_words(&b, msg);
  if (code == STATUS_OK)
    code = write_page(&b, msg);
  json_decref(b.summary);
  json_decref(b.band);
  free(b.case_text);
  free(b.text);
  return code;
}
