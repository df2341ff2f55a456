#include "io/report_page.h"

#include <dirent.h>
#include <stdlib.h>
#include <string.h>

#include "io/page_block.h"
#include "io/page_data.h"
#include "io/page_json.h"
#include "io/page_text.h"
#include "io/summary_text.h"
#include "io/whole_file.h"

enum { LARGEST_PICTURE = 32 << 20, LARGEST_TEXT = 1 << 20, MOST_PICTURES = 64, NAME = 128 };

typedef struct {
  FILE *to;
  const report_page_run *runs;
  size_t num_runs;
  const char *differences; /* NULL: a page of one run */
} page;

/* ------------------------------------------------------------------------------------------------ text into HTML */

/* Names and warnings are anybody's text. */
static void escaped(FILE *f, const char *text)
{
  for (; *text; text++)
    switch (*text) {
    case '<': fputs("&lt;", f); break;
    case '>': fputs("&gt;", f); break;
    case '&': fputs("&amp;", f); break;
    case '"': fputs("&quot;", f); break;
    default: fputc((unsigned char)*text < 0x20 && *text != '\n' ? ' ' : *text, f);
    }
}

/* ------------------------------------------------------------------------------------------------ pictures */

typedef struct { const char *file, *caption; } picture;
static const picture CAPTIONS[] = {
    {"section.png", "The rig as it was understood."},
    {"freeze_time.png", "When each place froze, in hours from the start of freezing; lines join places that froze together."},
    {"ice_cut_away.png", "The ice cut open at some moments of the freeze, with the water that was left in it."},
    {"last_pockets.png", "Where the last pockets of water stood inside their mould; trapped ones stand out."},
    {"clarity.png", "Where the ice is clear, hazy or white; dashed the largest clear piece that can be sawn out, and water that ice shut in."},
    {"growth_speed.png", "How fast the ice grew against the speed up to which it would have stayed clear; the heavy line is that limit."},
    {"frozen_share.png", "How much was ice, against time; the coolant below, if there is a coil."},
    {"temperature.png", "Temperature of the whole rig at the end."},
    {"liquid_fraction.png", "How much of the water and of the brine was liquid at the end."},
    {"ledger.png", "Where the cold came from and where it went."}};
enum { NUM_CAPTIONS = sizeof CAPTIONS / sizeof *CAPTIONS };

static size_t rank_of(const char *file)
{
  size_t i = 0;
  while (i < NUM_CAPTIONS && strcmp(CAPTIONS[i].file, file) != 0)
    i++;
  return i;
}

static int in_order(const void *a, const void *b)
{
  const char *x = a, *y = b;
  const size_t i = rank_of(x), j = rank_of(y);
  return i < j ? -1 : i > j ? 1 : strcmp(x, y);
}

static size_t list_pictures(const char *folder, char names[MOST_PICTURES][NAME])
{
  size_t num = 0;
  DIR *d = opendir(folder);
  for (struct dirent *e; d && num < MOST_PICTURES && (e = readdir(d)) != NULL;) {
    const size_t length = strlen(e->d_name);
    if (length > 4 && length < NAME && strcmp(e->d_name + length - 4, ".png") == 0)
      memcpy(names[num++], e->d_name, length + 1);
  }
  if (d)
    (void)closedir(d);
  qsort(names, num, sizeof *names, in_order);
  return num;
}

/* "clear_ice.png" -> "clear ice": a picture that has no caption here. */
static void caption_of(const char *file, char caption[NAME])
{
  const size_t rank = rank_of(file);
  (void)snprintf(caption, NAME, "%.*s", rank < NUM_CAPTIONS ? NAME - 1 : (int)strlen(file) - 4, rank < NUM_CAPTIONS ? CAPTIONS[rank].caption : file);
  for (char *c = caption; rank == NUM_CAPTIONS && *c; c++)
    if (*c == '_')
      *c = ' ';
}

static status write_picture(FILE *f, const char *folder, const char *name, message *msg)
{
  char path[WHOLE_FILE_PATH], caption[NAME], *bytes = NULL;
  size_t num = 0;
  status code = whole_file_join(path, folder, name, msg);
  if (code == STATUS_OK)
    code = whole_file_read(path, LARGEST_PICTURE, &bytes, &num, msg);
  if (code != STATUS_OK)
    return code;
  caption_of(name, caption);
  fputs("<figure class=\"picture\"><img alt=\"", f);
  escaped(f, caption);
  fputs("\" src=\"data:image/png;base64,", f);
  page_block_base64(f, (const unsigned char *)bytes, num);
  fputs("\"><figcaption>", f);
  escaped(f, caption);
  fputs("</figcaption></figure>\n", f);
  free(bytes);
  return STATUS_OK;
}

static status write_pictures(const page *p, message *msg)
{
  char folder[WHOLE_FILE_PATH], (*names)[NAME] = calloc(MOST_PICTURES, sizeof *names);
  if (!names)
    return message_set(msg, STATUS_NO_MEMORY, "out of memory for the page");
  status code = whole_file_join(folder, p->runs[0].directory, "pictures", msg);
  const size_t num = code == STATUS_OK ? list_pictures(folder, names) : 0;
  for (size_t i = 0; code == STATUS_OK && i < num; i++)
    code = write_picture(p->to, folder, names[i], msg);
  free(names);
  return code;
}

/* ------------------------------------------------------------------------------------------------ the page */

static void write_files(FILE *to, const char *ending)
{
  for (const page_text_file *file = page_text_files; file->name; file++) {
    const char *dot = strrchr(file->name, '.');
    if (dot && strcmp(dot, ending) == 0)
      (void)fwrite(file->bytes, 1, file->num, to);
  }
}

static status write_data(const page *p, message *msg)
{
  status code = STATUS_OK;
  fputs("{\"colours\":", p->to);
  page_data_colours(p->to);
  if (p->differences) {
    fputs(",\"differences\":", p->to);
    page_json_raw(p->to, p->differences);
  }
  fputs(",\"runs\":[", p->to);
  for (size_t i = 0; code == STATUS_OK && i < p->num_runs; i++) {
    fputs(i ? ",\n" : "\n", p->to);
    code = page_data_run(p->to, p->runs[i].directory, p->runs[i].label, p->runs[i].of, p->runs[i].mesh, msg);
  }
  fputs("]}", p->to);
  return code;
}

/* For a browser without scripts, and for a search of the file. */
static status write_sentences(const page *p, message *msg)
{
  char path[WHOLE_FILE_PATH], *text = NULL;
  status code = whole_file_join(path, p->runs[0].directory, SUMMARY_TEXT_NAME, msg);
  if (code == STATUS_OK && whole_file_exists(path))
    code = whole_file_read(path, LARGEST_TEXT, &text, NULL, msg);
  if (text)
    escaped(p->to, text);
  free(text);
  return code;
}

static status write_mark(const page *p, const char *mark, message *msg)
{
  if (strcmp(mark, "title") == 0)
    escaped(p->to, p->differences ? "Runs side by side" : p->runs[0].of->rig.title);
  else if (strcmp(mark, "style") == 0)
    write_files(p->to, ".css");
  else if (strcmp(mark, "script") == 0)
    write_files(p->to, ".js");
  else if (strcmp(mark, "data") == 0)
    return write_data(p, msg);
  else if (strcmp(mark, "pictures") == 0)
    return write_pictures(p, msg);
  else if (strcmp(mark, "sentences") == 0)
    return write_sentences(p, msg);
  return STATUS_OK;
}

/* The layout with its marks, "@@name@@", filled in. */
static status fill_layout(const page *p, const page_text_file *layout, message *msg)
{
  const char *text = (const char *)layout->bytes, *end = text + layout->num;
  status code = STATUS_OK;
  while (code == STATUS_OK && text < end) {
    const char *mark = text;
    while (mark + 1 < end && !(mark[0] == '@' && mark[1] == '@'))
      mark++;
    if (mark + 1 >= end)
      mark = end;
    (void)fwrite(text, 1, (size_t)(mark - text), p->to);
    if (mark == end)
      break;
    const char *close = mark + 2;
    while (close + 1 < end && !(close[0] == '@' && close[1] == '@'))
      close++;
    char name[32];
    (void)snprintf(name, sizeof name, "%.*s", (int)(close - mark - 2), mark + 2);
    code = write_mark(p, name, msg);
    text = close + 2;
  }
  return code;
}

static const page_text_file *layout_named(const char *name)
{
  const page_text_file *file = page_text_files;
  while (file->name && strcmp(file->name, name) != 0)
    file++;
  return file;
}

static status write_page(const char *path, const report_page_run *runs, size_t num, const char *differences, message *msg)
{
  whole_file *file = NULL;
  status code = whole_file_open(&file, path, msg);
  if (code != STATUS_OK)
    return code;
  const page p = {whole_file_stream(file), runs, num, differences};
  code = fill_layout(&p, layout_named(differences ? "compare.html" : "report.html"), msg);
  if (code == STATUS_OK)
    return whole_file_commit(&file, msg);
  whole_file_abandon(&file);
  return code;
}

status report_page_write(const char *path, const report_page_run *one, message *msg) { return write_page(path, one, 1, NULL, msg); }

status report_page_compare(const char *path, const report_page_run *runs, size_t num, const char *differences, message *msg)
{
  return write_page(path, runs, num, differences, msg);
}
