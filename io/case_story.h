/* The case in a paragraph, as one tells it to a colleague: what freezes, in what, where it stands, what cools it, until when. */
#ifndef LASTWATER_CASE_STORY_H
#define LASTWATER_CASE_STORY_H

#include "io/case_facts.h"

enum { CASE_STORY = 2048 };

/* Sentences, parted by blanks; cut short, whole words, where they do not fit. */
void case_story_tell(const case_file *c, const case_facts *f, char text[CASE_STORY]);

#endif
