#include "io/interrupt.h"

#include <signal.h>
#include <stddef.h>

enum { NUM_SIGNALS = 3 };
static const int SIGNALS[NUM_SIGNALS] = {SIGINT, SIGTERM, SIGXFSZ};

/* A signal handler can reach nothing but what is static: the one exception to "nothing is global". */
static volatile sig_atomic_t count;
static struct sigaction before[NUM_SIGNALS];

static void note(int signal_number)
{
  (void)signal_number;
  count = count + 1;
}

void interrupt_begin(void)
{
  struct sigaction act = {.sa_handler = note, .sa_flags = SA_RESTART};
  count = 0;
  (void)sigemptyset(&act.sa_mask);
  for (int i = 0; i < NUM_SIGNALS; i++) {
    act.sa_handler = SIGNALS[i] == SIGXFSZ ? SIG_IGN : note;
    (void)sigaction(SIGNALS[i], &act, &before[i]);
  }
}

void interrupt_end(void)
{
  for (int i = 0; i < NUM_SIGNALS; i++)
    (void)sigaction(SIGNALS[i], &before[i], NULL);
}

int interrupt_count(void)
{
  return (int)count;
}
