/* What a run shows while it works: on a terminal, into a file, quiet, without colour. */
#define _XOPEN_SOURCE 700
#include "io/progress.h"

#include <check.h>
#include <fcntl.h>
#include <math.h>
#include <poll.h>
#include <stdlib.h>
#include <string.h>
#include <sys/ioctl.h>
#include <termios.h>
#include <unistd.h>

static const progress_state half = {.stage = "freeze", .frozen_share = 0.48, .time = 27000.0, .coolant = -18.25};

/* A terminal of our own: what is written to *slave can be read from the returned descriptor. */
static int open_terminal(FILE **slave, unsigned short columns)
{
  const int master = posix_openpt(O_RDWR | O_NOCTTY);
  ck_assert(master >= 0 && grantpt(master) == 0 && unlockpt(master) == 0);
  const struct winsize size = {.ws_row = 24, .ws_col = columns};
  const int fd = open(ptsname(master), O_RDWR | O_NOCTTY);
  ck_assert(fd >= 0 && ioctl(fd, TIOCSWINSZ, &size) == 0);
  struct termios plain;
  ck_assert_int_eq(tcgetattr(fd, &plain), 0);
  plain.c_oflag &= ~(tcflag_t)OPOST;
  ck_assert_int_eq(tcsetattr(fd, TCSANOW, &plain), 0);
  *slave = fdopen(fd, "w");
  ck_assert_ptr_nonnull(*slave);
  return master;
}

static void read_terminal(int master, char *text, size_t size)
{
  struct pollfd ready = {.fd = master, .events = POLLIN};
  size_t num = 0;
  while (num + 1 < size && poll(&ready, 1, num ? 200 : 5000) > 0) { /* a terminal hands on in its own time */
    const ssize_t got = read(master, text + num, size - 1 - num);
    ck_assert_int_gt(got, 0);
    num += (size_t)got;
  }
  ck_assert_uint_gt(num, 0);
  text[num] = '\0';
}

START_TEST(a_terminal_gets_one_steady_line_with_a_bar)
{
  FILE *to;
  progress p;
  char text[1024];
  const int master = open_terminal(&to, 80);
  ck_assert_int_eq(setenv("TERM", "xterm", 1), 0);
  ck_assert_int_eq(setenv("NO_COLOR", "1", 1), 0);
  progress_begin(&p, to, false, 100.0);
  const progress_state start = {.stage = "freeze", .frozen_share = 0.0, .time = 0.0, .coolant = -18.25};
  progress_show(&p, &start, 100.0);
  progress_show(&p, &half, 112.0);
  progress_end(&p);
  read_terminal(master, text, sizeof text);
  /* 48 % in 12 s: 52 % more takes 13 s. */
  const char *second = strrchr(text, '\r');
  ck_assert_ptr_nonnull(second);
  ck_assert_msg(strncmp(second + 1, "[=====       ]  48.0 %  at 7 h 30 min, coolant -18.2 C, about 13 s left ", 72) == 0, "%s", second + 1);
  ck_assert_uint_eq(strlen(second + 1), 80); /* 79 columns and the line end */
  ck_assert_int_eq(second[80], '\n');
  ck_assert_ptr_null(strchr(text, '\033'));
  (void)fclose(to);
  (void)close(master);
}
END_TEST

START_TEST(a_wide_terminal_has_a_longer_bar)
{
  FILE *to;
  progress p;
  char text[1024];
  const int master = open_terminal(&to, 200);
  ck_assert_int_eq(setenv("NO_COLOR", "1", 1), 0);
  ck_assert_int_eq(setenv("TERM", "xterm", 1), 0);
  progress_begin(&p, to, false, 100.0);
  const progress_state start = {.stage = "freeze", .frozen_share = 0.0, .time = 0.0, .coolant = NAN};
  progress_show(&p, &start, 100.0);
  progress_show(&p, &half, 112.0);
  read_terminal(master, text, sizeof text);
  ck_assert_msg(strstr(text, "[=========           ]  48.0 %  at 7 h 30 min, coolant -18.2 C, about 13 s left") != NULL, "%s", text);
  (void)fclose(to);
  (void)close(master);
}
END_TEST

START_TEST(colour_is_for_terminals_that_have_it)
{
  static const struct {
    const char *term, *no_colour;
    bool coloured;
  } cases[] = {{"xterm", "", true}, {"xterm", "1", false}, {"dumb", "", false}};
  for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
    FILE *to;
    progress p;
    char text[1024];
    const int master = open_terminal(&to, 80);
    ck_assert_int_eq(setenv("TERM", cases[i].term, 1), 0);
    ck_assert_int_eq(setenv("NO_COLOR", cases[i].no_colour, 1), 0);
    progress_begin(&p, to, false, 0.0);
    progress_show(&p, &half, 10.0);
    progress_end(&p);
    read_terminal(master, text, sizeof text);
    ck_assert_int_eq(strchr(text, '\033') != NULL, cases[i].coloured);
    ck_assert_int_eq(strchr(text, '\r') != NULL, strcmp(cases[i].term, "dumb") != 0);
    (void)fclose(to);
    (void)close(master);
  }
}
END_TEST

/* Reads all that was written to a temporary file. */
static void read_back(FILE *to, char *text, size_t size)
{
  rewind(to);
  const size_t num = fread(text, 1, size - 1, to);
  text[num] = '\0';
}

START_TEST(a_file_gets_a_line_every_few_seconds)
{
  FILE *to = tmpfile();
  progress p;
  char text[2048];
  progress_begin(&p, to, false, 0.0);
  for (int step = 0; step <= 1200; step++) { /* 12 s in steps of 10 ms */
    progress_state state = half;
    state.frozen_share = step / 2400.0;
    progress_show(&p, &state, 0.01 * step);
  }
  progress_end(&p);
  read_back(to, text, sizeof text);
  size_t lines = 0;
  for (const char *c = text; *c; c++)
    lines += *c == '\n';
  ck_assert_msg(lines == 2, "%s", text);
  ck_assert_msg(strncmp(text, "freeze:  20.", 12) == 0 && strstr(text, "about 19 s left\n") != NULL, "%s", text);
  ck_assert_ptr_null(strchr(text, '\r'));
  ck_assert_ptr_null(strchr(text, '\033'));
  (void)fclose(to);
}
END_TEST

START_TEST(quiet_says_nothing)
{
  FILE *to = tmpfile();
  progress p;
  char text[64];
  progress_begin(&p, to, true, 0.0);
  progress_show(&p, &half, 100.0);
  progress_end(&p);
  read_back(to, text, sizeof text);
  ck_assert_str_eq(text, "");
  (void)fclose(to);
}
END_TEST

START_TEST(not_quite_solid_is_not_called_100_percent)
{
  FILE *to = tmpfile();
  progress p;
  char text[1024];
  progress_state state = {.stage = "freeze", .frozen_share = 0.99996, .time = 90.0, .coolant = NAN};
  progress_begin(&p, to, false, 0.0);
  progress_show(&p, &state, 6.0);
  state.frozen_share = 1.0;
  progress_show(&p, &state, 12.0);
  read_back(to, text, sizeof text);
  ck_assert_str_eq(text, "freeze:  99.9 %  at 1 min\nfreeze: 100.0 %  at 1 min\n");
  (void)fclose(to);
}
END_TEST

/* Ten seconds to half, then ten more for a tenth: what is left takes forty at that pace, not twenty. */
START_TEST(the_guess_follows_the_pace_of_late)
{
  FILE *to = tmpfile();
  progress p;
  char text[8192];
  progress_begin(&p, to, false, 0.0);
  for (int step = 0; step <= 400; step++) {
    progress_state state = half;
    const double wall = 0.05 * step;
    state.frozen_share = wall <= 10.0 ? 0.05 * wall : 0.5 + 0.01 * (wall - 10.0);
    progress_show(&p, &state, wall);
  }
  progress_show(&p, &(progress_state){.stage = "freeze", .frozen_share = 0.65, .time = 1.0, .coolant = NAN}, 25.0);
  read_back(to, text, sizeof text);
  ck_assert_msg(strstr(text, " 65.0 %  at 1 s, about 35 s left") != NULL, "%s", text);
  (void)fclose(to);
}
END_TEST

/* A sitting that begins at 80 % and gains 10 % in 10 s has 10 s to go, not 1 s. */
START_TEST(a_resumed_run_guesses_from_this_sitting)
{
  FILE *to = tmpfile();
  progress p;
  char text[1024];
  progress_state state = {.stage = "freeze", .frozen_share = 0.8, .time = 7200.0, .coolant = NAN};
  progress_begin(&p, to, false, 50.0);
  progress_show(&p, &state, 50.0);
  state.frozen_share = 0.9;
  progress_show(&p, &state, 60.0);
  read_back(to, text, sizeof text);
  ck_assert_msg(strstr(text, "at 2 h 00 min, about 10 s left") != NULL, "%s", text);
  (void)fclose(to);
}
END_TEST

int main(void)
{
  Suite *suite = suite_create("progress");
  TCase *tcase = tcase_create("all");
  tcase_add_test(tcase, a_terminal_gets_one_steady_line_with_a_bar);
  tcase_add_test(tcase, a_wide_terminal_has_a_longer_bar);
  tcase_add_test(tcase, colour_is_for_terminals_that_have_it);
  tcase_add_test(tcase, a_file_gets_a_line_every_few_seconds);
  tcase_add_test(tcase, quiet_says_nothing);
  tcase_add_test(tcase, not_quite_solid_is_not_called_100_percent);
  tcase_add_test(tcase, the_guess_follows_the_pace_of_late);
  tcase_add_test(tcase, a_resumed_run_guesses_from_this_sitting);
  suite_add_tcase(suite, tcase);
  SRunner *runner = srunner_create(suite);
  srunner_run_all(runner, CK_NORMAL);
  const int failed = srunner_ntests_failed(runner);
  srunner_free(runner);
  return failed ? EXIT_FAILURE : EXIT_SUCCESS;
}
