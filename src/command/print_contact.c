#include "command/print_job.h"
int mil_print_contact(mil_print_job *job) {
    (void)job;
    return 1;
}
int mil_print_strip(mil_print_job *job, mil_picture *p) {
    (void)job;
    (void)p;
    return 1;
}
