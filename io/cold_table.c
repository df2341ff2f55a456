#include "io/cold_table.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "io/whole_file.h"

static const double J_PER_KWH = 3.6e6;

static int by_size(const void *a, const void *b)
{
  const cold_row *x = a, *y = b;
  return x->joules != y->joules ? (x->joules < y->joules) - (x->joules > y->joules) : strcmp(x->name, y->name);
}

/* What melts a piece outside its mould is no cold that the rig spent. */
static bool is_of_piece(const char *name)
{
  static const char END[] = " piece";
  const size_t length = strlen(name), end = sizeof END - 1;
  return length >= end && strcmp(name + length - end, END) == 0;
}

status cold_table_make(cold_table *out, const heat_ledger *ledger, double seconds, message *msg)
{
  cold_row *rows = malloc(2 * (ledger->num + 1) * sizeof *rows);
  if (!rows)
    return message_set(msg, STATUS_NO_MEMORY, "out of memory: %zu bytes for the table of the cold", 2 * (ledger->num + 1) * sizeof *rows);
  *out = (cold_table){.from = rows, .into = rows + ledger->num + 1};
  for (size_t i = 0; i < ledger->num; i++) {
    if (is_of_piece(ledger->entries[i].name))
      continue;
    const double used = (i < ledger->num_paths ? 1.0 : -1.0) * ledger->entries[i].joules;
    if (used > 0.0)
      out->into[out->num_into++] = (cold_row){.name = ledger->entries[i].name, .joules = used, .latent = -ledger->entries[i].latent};
    else if (used < 0.0)
      out->from[out->num_from++] = (cold_row){.name = ledger->entries[i].name, .joules = -used, .latent = ledger->entries[i].latent};
  }
  for (size_t i = 0; i < out->num_from; i++)
    out->total += out->from[i].joules;
  qsort(out->from, out->num_from, sizeof *rows, by_size);
  qsort(out->into, out->num_into, sizeof *rows, by_size);
  for (size_t i = 0; i < out->num_from + out->num_into; i++) {
    cold_row *r = i < out->num_from ? &out->from[i] : &out->into[i - out->num_from];
    r->share = out->total > 0.0 ? r->joules / out->total : NAN;
    r->watts = seconds > 0.0 ? r->joules / seconds : NAN;
  }
  return STATUS_OK;
}

void cold_table_release(cold_table *t)
{
  free(t->from);
  *t = (cold_table){0};
}

double cold_table_seconds(const results *res)
{
  return res->num_stages ? res->stages[res->num_stages - 1].end_at - res->stages[0].start_at : 0.0;
}

/* ------------------------------------------------------------------------------------------------ ledger.txt */

/* Mean watts; nothing of the kind for what is done at once. */
static void print_watts(FILE *to, double watts)
{
  if (isfinite(watts))
    (void)fprintf(to, " %10.1f\n", watts);
  else
    (void)fprintf(to, " %10s\n", "-");
}

static void print_row(FILE *to, int indent, const char *name, double joules, double share, double watts)
{
  (void)fprintf(to, "%*s%-*.*s %14.0f %10.3f %6.1f %%", indent, "", 44 - indent, 44 - indent, name, joules, joules / J_PER_KWH, 100.0 * share);
  print_watts(to, watts);
}

/* What a liquid stored comes apart into ice and warmth. */
static void print_rows(FILE *to, const char *heading, const cold_row *rows, size_t num)
{
  (void)fprintf(to, "%-44s %14s %10s %8s %10s\n", heading, "J", "kWh", "share", "mean W");
  for (size_t i = 0; i < num; i++) {
    const cold_row *r = &rows[i];
    const double ice = r->latent / r->joules;
    print_row(to, 2, r->name, r->joules, r->share, r->watts);
    if (r->latent == 0.0)
      continue;
    print_row(to, 6, "of it latent (ice)", r->latent, ice * r->share, ice * r->watts);
    print_row(to, 6, "of it sensible", r->joules - r->latent, (1.0 - ice) * r->share, (1.0 - ice) * r->watts);
  }
}

static status print_table(FILE *to, const char *title, const heat_ledger *ledger, double seconds, message *msg)
{
  cold_table t;
  const status code = cold_table_make(&t, ledger, seconds, msg);
  if (code != STATUS_OK)
    return code;
  (void)fprintf(to, "%s, %.2f h\n\n", title, seconds / 3600.0);
  if (t.num_from + t.num_into > 0) {
    print_rows(to, "The cold came from", t.from, t.num_from);
    print_rows(to, "It went into", t.into, t.num_into);
  } else {
    (void)fprintf(to, "Nothing moved in the rig.\n");
  }
  if (isfinite(ledger->residual_relative) && t.num_from + t.num_into > 0)
    (void)fprintf(to, "The two sums agree to %.1e of the heat moved.\n", fabs(ledger->residual_relative));
  (void)fprintf(to, "\n");
  cold_table_release(&t);
  return STATUS_OK;
}

status cold_table_write(const char *path, const results *res, message *msg)
{
  whole_file *f = NULL;
  char title[2 * RIG_NAME];
  status code = whole_file_open(&f, path, msg);
  if (code == STATUS_OK)
    code = print_table(whole_file_stream(f), "Where the cold went: the whole run", &res->ledger, cold_table_seconds(res), msg);
  for (size_t i = 0; code == STATUS_OK && res->num_stages > 1 && i < res->num_stages; i++) {
    (void)snprintf(title, sizeof title, "Stage %s", res->stages[i].name);
    code = print_table(whole_file_stream(f), title, &res->stages[i].ledger, res->stages[i].end_at - res->stages[i].start_at, msg);
  }
  if (code == STATUS_OK)
    return whole_file_commit(&f, msg);
  whole_file_abandon(&f);
  return code;
}
