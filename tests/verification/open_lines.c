#include "open_lines.h"

#include <stddef.h>
#include <string.h>

typedef struct {
  const char *title, *what;
} open_line;

/* In the comment: the error and, in brackets, the limit that stands. */
static const open_line open_lines[] = {
    {"cone, height 1.6 R, all faces cold",
     "cone, apex down, Ste 0.2 Bi 2, 20 cells: complete"}, /* -0.4478 % (0.3) */
    {"cone, height 1.6 R, all faces cold",
     "cone, apex down, Ste 0.2 Bi 2, 40 cells: complete"}, /* -0.1693 % (0.15) */
    {"cone, height 1.6 R, all faces cold",
     "cone, apex up, Ste 0.2 Bi 2, 20 cells: complete"}, /* -0.4486 % (0.3) */
    {"cone, height 1.6 R, all faces cold",
     "cone, apex up, Ste 0.2 Bi 2, 40 cells: complete"}, /* -0.1781 % (0.15) */
    {"cone, height 1.6 R, all faces cold",
     "cone, apex down, +10/-20 degC, Bi 2, 20 cells: complete"}, /* -0.3621 % (0.3) */
    {"cone, height 1.6 R, all faces cold",
     "cone, apex down, +10/-20 degC, Bi 2, 40 cells: complete"}, /* -0.1539 % (0.15) */
    {"cone, height 1.6 R, all faces cold",
     "cone, apex up, +10/-20 degC, Bi 2, 20 cells: complete"}, /* -0.3349 % (0.3) */
    {"cone, height 1.6 R, all faces cold",
     "cone, apex up, +10/-20 degC, Bi 2, 40 cells: complete"}, /* -0.1576 % (0.15) */
    {"outward from a cylinder",
     "cylinder Ste 2 Bi inf phi 0, 20 cells: to 1.25 R"}, /* +1.4226 % (1) */
    {"outward from a cylinder, default steps (limits + 0.25 %)",
     "cylinder Ste 2 Bi inf phi 0, 20 cells: to 1.25 R"}, /* +2.2080 % (1.25) */
    {"outward from a cylinder, default steps (limits + 0.25 %)",
     "cylinder Ste 0.0614 Bi inf phi 1, 20 cells: to 1.25 R"}, /* +1.5557 % (1.25) */
    {"untuned: cones",
     "cone of height 0.8 R, Ste 0.2 Bi 2, 20 cells"}, /* +1.1385 % (0.3) */
    {"untuned: cones",
     "cone of height 0.8 R, Ste 0.2 Bi 2, 40 cells"}, /* +0.6453 % (0.15) */
    {"1.5 mm wall, k 0.2, in 3 mm cells, normal (2, 5, -1): steady flow, W", "in"}, /* -1.1565 % (1) */
    {"1.5 mm wall, k 0.2, in 3 mm cells, normal (2, 5, -1): steady flow, W", "out"}, /* -1.1563 % (1) */
    {"", ""}, /* the list ends here */
};

bool open_lines_has(const char *title, const char *what)
{
  for (const open_line *o = open_lines; *o->title; o++)
    if (strcmp(o->title, title) == 0 && strcmp(o->what, what) == 0)
      return true;
  return false;
}
