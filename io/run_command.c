#include "io/run_command.h"

#include <errno.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#ifdef _OPENMP
#include <omp.h>
#endif

#include "io/case_triangles.h"
#include "io/checkpoint.h"
#include "io/field_store.h"
#include "io/interrupt.h"
#include "io/plain_words.h"
#include "io/progress.h"
#include "io/result_dir.h"
#include "io/run_log.h"
#include "io/run_output.h"
#include "io/summary_text.h"
#include "io/whole_file.h"

/* After a wish to stop, s of wall time in which the next checkpoint may come: then nothing is lost. */
static const double LONGEST_UNSAVED = 30.0; /* s of wall time that a kill may cost, besides the rule of simulated time */
static const double PATIENCE = 3.0;
/* Checkpoints may take this share of the time; those that come too soon are left out, which changes nothing in the run. */
static const double CHECKPOINT_SHARE = 0.05;
enum { LONGEST_SUMMARY = 64 << 20 };

/* One sitting at a run: what it holds while it works. */
typedef struct {
  const options *o;
  const case_file *of;
  const rig *rig;
  char directory[WHOLE_FILE_PATH], checkpoint[WHOLE_FILE_PATH];
  char *case_text, case_hash[TEXT_HASH];
  int lock;
  run *run;
  field_store *fields;
  run_log *log;
  progress shown;
  provenance who;
  double begun, wall_before;         /* s on the wall clock; s spent in earlier sittings */
  double saved_at, saving_took;      /* the last checkpoint: when, s; how long, s         */
  double saved_time;                 /* s simulated; NAN: none in the directory           */
} sitting;

static double wall_clock(void)
{
  struct timespec t;
  (void)clock_gettime(CLOCK_MONOTONIC, &t);
  return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

static double wall_spent(const sitting *s)
{
  return s->wall_before + wall_clock() - s->begun;
}

static int set_threads(const options *o, const rig *r)
{
  const int wanted = o->threads > 0 ? o->threads : r->control.threads;
#ifdef _OPENMP
  if (wanted > 0)
    omp_set_num_threads(wanted);
  return omp_get_max_threads();
#else
  (void)wanted;
  return 1;
#endif
}

static size_t stage_index(const sitting *s)
{
  const char *name = run_stage_name(s->run);
  for (size_t stage = 0; stage < s->rig->num_stages; stage++)
    if (strcmp(s->rig->stages[stage].name, name) == 0)
      return stage;
  return 0;
}

/* ------------------------------------------------------------------------------------------------ beginning */

static void log_beginning(sitting *s, const case_file *c)
{
  const mesh *m = run_mesh(s->run);
  const grid *g = m->grid;
  run_log_line(s->log, "%s, %s, %d thread%s", s->who.program, s->who.started, s->who.threads, s->who.threads == 1 ? "" : "s");
  run_log_line(s->log, "case %s, hash %s", c->path, s->case_hash);
  run_log_line(s->log, "grid %zu x %zu x %zu cells, %zu nodes, %zu faces beside the regular ones, %zu interface elements, %zu wall patches",
               g->num[0], g->num[1], g->num[2], m->num_nodes, m->num_faces, m->num_interfaces, m->num_patches);
  run_log_line(s->log, "cut cells: %zu nodes merged into a neighbour, %zu slivers kept, %zu distances raised to the smallest allowed",
               m->num_merged, m->num_kept_slivers, m->num_floored);
  if (m->num_lost || m->dropped_area > 0.0)
    run_log_line(s->log, "thin walls: %zu facets without a node left out, %.3g m2 against rims left out", m->num_lost, m->dropped_area);
  if (c->notes && c->notes[0])
    run_log_line(s->log, "about the input:\n%s", c->notes);
}

/* A fresh start. An old checkpoint goes first: it must never stand beside fields that are not its own. */
static status start_anew(sitting *s, message *msg)
{
  char path[WHOLE_FILE_PATH];
  status code = whole_file_remove(s->checkpoint, msg);
  if (code == STATUS_OK)
    code = whole_file_join(path, s->directory, RESULT_DIR_CASE, msg);
  if (code == STATUS_OK)
    code = whole_file_write(path, s->case_text, strlen(s->case_text), msg);
  if (code == STATUS_OK)
    code = run_log_open(&s->log, s->directory, false, msg);
  if (code == STATUS_OK)
    code = field_store_create(&s->fields, s->directory, s->rig, run_mesh(s->run), s->case_hash, msg);
  return code;
}

/* A kill between the fields' final name and the end of the run leaves the checkpoint and no fields.part.h5: the name goes back. */
static status find_fields(const sitting *s, message *msg)
{
  char part[WHOLE_FILE_PATH], whole[WHOLE_FILE_PATH];
  status code = whole_file_join(part, s->directory, FIELD_STORE_PART, msg);
  if (code == STATUS_OK)
    code = whole_file_join(whole, s->directory, FIELD_STORE_NAME, msg);
  if (code == STATUS_OK && !whole_file_exists(part) && whole_file_exists(whole))
    code = whole_file_rename(whole, part, msg);
  return code;
}

static status restore_run(sitting *s, const checkpoint_header *h, message *msg)
{
  const state_field *fields = NULL;
  status code = run_reserve(s->run, h->num_rows, h->num_events, msg);
  if (code == STATUS_OK) {
    const size_t num = run_state(s->run, &fields);
    code = checkpoint_read_state(s->checkpoint, fields, num, msg);
  }
  return code == STATUS_OK ? run_restored(s->run, msg) : code;
}

static status go_on(sitting *s, message *msg)
{
  checkpoint_header h;
  status code = checkpoint_read_header(s->checkpoint, s->case_hash, &h, msg);
  if (code != STATUS_OK)
    return code;
  code = restore_run(s, &h, msg);
  if (code == STATUS_OK)
    code = find_fields(s, msg);
  if (code == STATUS_OK)
    code = field_store_continue(&s->fields, s->directory, s->rig, run_mesh(s->run), s->case_hash, &h.fields, msg);
  if (code == STATUS_OK && field_store_num_times(s->fields) != h.num_times)
    code = message_set(msg, STATUS_FILE, "cannot continue %s: it holds %zu stored times and the checkpoint says %zu; run again without --resume",
                       s->directory, field_store_num_times(s->fields), h.num_times);
  if (code == STATUS_OK)
    code = run_log_open(&s->log, s->directory, true, msg);
  if (code == STATUS_OK) {
    s->wall_before = h.wall;
    s->saved_time = run_time(s->run);
  }
  checkpoint_release_header(&h);
  return code;
}

static status begin(sitting *s, const case_file *c, message *msg)
{
  const bool resumed = s->o->resume && whole_file_exists(s->checkpoint);
  status code = resumed ? go_on(s, msg) : start_anew(s, msg);
  if (code == STATUS_OK && !resumed)
    code = case_triangles_copy(c, s->directory, msg);
  if (code != STATUS_OK)
    return code;
  if (resumed)
    run_log_line(s->log, "resumed at %.0f s", run_time(s->run));
  else if (s->o->resume)
    run_log_line(s->log, "nothing to resume: no checkpoint in %s; started from the beginning", s->directory);
  log_beginning(s, c);
  return STATUS_OK;
}

/* ------------------------------------------------------------------------------------------------ marching */

static status store(sitting *s, message *msg)
{
  return field_store_append(s->fields, run_time(s->run), stage_index(s), run_temperature(s->run), run_liquid_fraction(s->run), msg);
}

/* Too soon after the last one, for what that took. */
static bool saving_is_dear(const sitting *s, double now)
{
  return now - s->saved_at < s->saving_took / CHECKPOINT_SHARE && interrupt_count() == 0;
}

static status save(sitting *s, message *msg)
{
  const double before = wall_clock();
  if (saving_is_dear(s, before))
    return STATUS_OK;
  const results *res = run_results(s->run);
  checkpoint_header h = {.num_rows = res->series.num_rows,
                         .num_events = res->num_events,
                         .num_times = field_store_num_times(s->fields),
                         .wall = wall_spent(s)};
  (void)snprintf(h.case_hash, sizeof h.case_hash, "%s", s->case_hash);
  status code = field_store_mark(s->fields, &h.fields, msg);
  if (code == STATUS_OK) {
    const state_field *fields = NULL;
    const size_t num = run_state(s->run, &fields);
    code = checkpoint_write(s->checkpoint, &h, fields, num, msg);
  }
  file_mark_release(&h.fields);
  if (code == STATUS_OK) {
    s->saved_at = wall_clock();
    s->saving_took = s->saved_at - before;
    s->saved_time = run_time(s->run);
  }
  return code;
}

static status interrupted(const sitting *s, message *msg)
{
  char now[PLAIN_WORDS], saved[PLAIN_WORDS];
  plain_words_duration(run_time(s->run), now);
  plain_words_duration(s->saved_time, saved);
  return message_set(msg, STATUS_INTERRUPTED, "interrupted at %s simulated; the same command with --resume goes on from %s", now,
                     isnan(s->saved_time) ? "the beginning" : saved);
}

/* What a pause asks for. */
static status attend(sitting *s, run_pause why, message *msg)
{
  switch (why) {
  case PAUSE_PROGRESS:
    return STATUS_OK;
  case PAUSE_STORE:
    return store(s, msg);
  case PAUSE_CHECKPOINT:
    return save(s, msg);
  case PAUSE_STAGE_END:
    run_log_line(s->log, "%.1f s: a stage ended", run_time(s->run));
    return STATUS_OK;
  case PAUSE_DONE: /* the end is stored too, unless it was */
    return run_time(s->run) > field_store_last_time(s->fields) ? store(s, msg) : STATUS_OK;
  }
  return STATUS_OK;
}

/* True when the sitting should end now. The wish to stop waits a little for a checkpoint; a second wish does not. */
static bool must_stop(run_pause why, double *wished)
{
  const int count = interrupt_count();
  if (count == 0)
    return false;
  if (isnan(*wished))
    *wished = wall_clock();
  return count > 1 || why == PAUSE_CHECKPOINT || wall_clock() - *wished > PATIENCE;
}

static status march(sitting *s, message *msg)
{
  run_pause why = PAUSE_PROGRESS;
  double wished = NAN;
  progress_begin(&s->shown, stderr, s->o->quiet, wall_clock());
  status code = STATUS_OK;
  while (code == STATUS_OK && why != PAUSE_DONE) {
    code = run_advance(s->run, &why, msg);
    if (code == STATUS_OK)
      code = attend(s, why, msg);
    if (code == STATUS_OK) {
      const progress_state state = {.stage = run_stage_name(s->run),
                                    .frozen_share = run_frozen_share(s->run),
                                    .time = run_time(s->run),
                                    .coolant = run_coolant_temperature(s->run)};
      progress_show(&s->shown, &state, wall_clock());
      /* one that would not be taken is not asked for: the run would hand it out again and again and never step */
      const double now = wall_clock();
      if ((now - fmax(s->saved_at, s->begun) > LONGEST_UNSAVED && !saving_is_dear(s, now)) || interrupt_count() > 0)
        run_ask_checkpoint(s->run);
      if (why != PAUSE_DONE && must_stop(why, &wished))
        code = interrupted(s, msg);
    }
  }
  progress_end(&s->shown);
  return code;
}

/* ------------------------------------------------------------------------------------------------ ending */

static void log_ending(sitting *s)
{
  const results *res = run_results(s->run);
  for (size_t stage = 0; stage < res->num_stages; stage++)
    run_log_line(s->log, "stage %s: %.1f s to %.1f s, ended by %s; books close to %.2e", res->stages[stage].name, res->stages[stage].start_at,
                 res->stages[stage].end_at, res->stages[stage].ended_by, res->stages[stage].ledger.residual_relative);
  for (size_t i = 0; i < res->num_events; i++)
    run_log_line(s->log, res->events[i].count > 1.0 ? "event at %.1f s, %s: %s %s; %.0f of them, the last at %.1f s" : "event at %.1f s, %s: %s %s",
                 res->events[i].at, res->events[i].stage, res->events[i].what, res->events[i].where, res->events[i].count, res->events[i].last_at);
  for (size_t i = 0; i < res->num_warnings; i++)
    run_log_line(s->log, "warning: %s", res->warnings[i]);
  run_log_line(s->log, "%zu steps and %zu rejected, %zu evaluations of the heat balance, in this sitting", res->num_steps, res->num_rejected,
               res->num_stages_taken);
  for (size_t i = 0; i < res->num_bodies; i++)
    if (res->bodies[i].clear.present)
      run_log_line(s->log, "clear ice in %s: %zu looks at nodes, beside %.0f in the heat balance", res->bodies[i].name,
                   res->bodies[i].clear.num_visits, (double)res->num_stages_taken * (double)res->num_nodes);
  run_log_line(s->log, "%zu stored times; %.2f s of wall time in all", field_store_num_times(s->fields), wall_spent(s));
}

static status print_answer(const options *o, const char *directory, const char *json, const char *text, message *msg)
{
  if (o->unsaid)
    return STATUS_OK;
  errno = 0;
  bool ok = fputs(o->json ? json : text, stdout) != EOF;
  if (!o->json)
    ok = printf("\nLook at %s/report.html or pictures/.\nFigures: summary.json, series.csv, fields.h5 (general viewers: "
                "fields.xdmf).\n",
                directory) > 0 && ok;
  ok = fflush(stdout) == 0 && ok;
  return ok ? STATUS_OK
            : message_set(msg, STATUS_FILE, "cannot write the answer to standard output: %s; it is in %s/%s",
                          strerror(errno ? errno : EIO), directory, SUMMARY_TEXT_NAME);
}

static status finish(sitting *s, message *msg)
{
  run_output out = {NULL, NULL};
  s->who.wall = wall_spent(s);
  log_ending(s);
  status code = run_output_write(&out, s->directory, s->of, s->run, &s->fields, &s->who, msg);
  if (code == STATUS_OK)
    code = whole_file_remove(s->checkpoint, msg);
  if (code == STATUS_OK)
    code = run_log_finish(&s->log, msg);
  if (code == STATUS_OK)
    code = print_answer(s->o, s->directory, out.json, out.text, msg);
  run_output_release(&out);
  return code;
}

/* --resume of a run that is done: nothing to do but to say the answer again. */
static bool is_done(const sitting *s)
{
  static const char *const needed[] = {SUMMARY_JSON_NAME, SUMMARY_TEXT_NAME, FIELD_STORE_NAME};
  static const char *const none_of[] = {CHECKPOINT_NAME, FIELD_STORE_PART};
  char path[WHOLE_FILE_PATH];
  for (size_t i = 0; i < sizeof needed / sizeof *needed; i++)
    if (whole_file_join(path, s->directory, needed[i], NULL) != STATUS_OK || !whole_file_exists(path))
      return false;
  for (size_t i = 0; i < sizeof none_of / sizeof *none_of; i++)
    if (whole_file_join(path, s->directory, none_of[i], NULL) != STATUS_OK || whole_file_exists(path))
      return false;
  return true;
}

static status say_again(const sitting *s, message *msg)
{
  char path[WHOLE_FILE_PATH], *json = NULL, *text = NULL;
  status code = whole_file_join(path, s->directory, SUMMARY_JSON_NAME, msg);
  if (code == STATUS_OK)
    code = whole_file_read(path, LONGEST_SUMMARY, &json, NULL, msg);
  if (code == STATUS_OK)
    code = whole_file_join(path, s->directory, SUMMARY_TEXT_NAME, msg);
  if (code == STATUS_OK)
    code = whole_file_read(path, LONGEST_SUMMARY, &text, NULL, msg);
  if (code == STATUS_OK)
    code = print_answer(s->o, s->directory, json, text, msg);
  free(json);
  free(text);
  return code;
}

/* ------------------------------------------------------------------------------------------------ the whole */

/* Once a run, beside the notes in its log: without --band spreads of values change nothing. */
static void tell_spreads(const options *o, const case_file *c)
{
  static const char mark[] = "the spread counts with run --band";
  size_t num = 0;
  for (const char *p = c->notes ? c->notes : ""; (p = strstr(p, mark)) != NULL; p++)
    num++;
  if (num > 0 && !o->quiet && !o->band)
    (void)fprintf(stderr, "lastwater: the spread of %zu value%s counts with --band only; middle values are computed\n", num, num == 1 ? "" : "s");
}

static status prepare(sitting *s, const options *o, const case_file *c, message *msg)
{
  *s = (sitting){.o = o, .of = c, .rig = &c->rig, .lock = -1, .begun = wall_clock(), .saved_at = -INFINITY, .saved_time = NAN};
  summary_json_provenance(&s->who);
  s->who.threads = set_threads(o, &c->rig);
  status code = result_dir_name(s->directory, c->path, o->directory, msg);
  if (code == STATUS_OK)
    code = whole_file_join(s->checkpoint, s->directory, CHECKPOINT_NAME, msg);
  if (code == STATUS_OK)
    code = case_file_resolved(c, &s->case_text, msg);
  if (code == STATUS_OK)
    text_hash(s->case_text, s->case_hash);
  return code;
}

static void clear_away(sitting *s)
{
  field_store_destroy(&s->fields);
  run_log_close(&s->log);
  run_destroy(&s->run);
  result_dir_release(&s->lock);
  free(s->case_text);
}

status run_command(const options *o, const case_file *c, message *msg)
{
  sitting s;
  interrupt_begin();
  status code = prepare(&s, o, c, msg);
  tell_spreads(o, c);
  if (code == STATUS_OK) /* before anything is written: a fault of the input leaves nothing behind */
    code = run_create(&s.run, s.rig, msg);
  if (code == STATUS_OK)
    code = result_dir_claim(s.directory, s.case_text, &s.lock, msg);
  if (code == STATUS_OK && o->resume && is_done(&s)) {
    code = say_again(&s, msg);
  } else if (code == STATUS_OK) {
    code = begin(&s, c, msg);
    if (code == STATUS_OK)
      code = march(&s, msg);
    if (code == STATUS_OK)
      code = finish(&s, msg);
    else if (s.log && msg)
      run_log_line(s.log, "stopped: %s", msg->text);
  }
  clear_away(&s);
  interrupt_end();
  return code;
}
