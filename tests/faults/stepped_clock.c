/* Preloaded (ld.so(8), LD_PRELOAD): the wall clock is off by as many seconds as the file that STEPPED_CLOCK
   names says; the monotonic clock is the host's. */
#define _GNU_SOURCE
#include <dlfcn.h>
#include <stdio.h>
#include <stdlib.h>
#include <time.h>

int clock_gettime(clockid_t which, struct timespec *at) {
    static int (*real)(clockid_t, struct timespec *);
    if (real == NULL) *(void **)&real = dlsym(RTLD_NEXT, "clock_gettime");
    int failed = real(which, at);
    if (which != CLOCK_REALTIME || failed) return failed;
    const char *name = getenv("STEPPED_CLOCK");
    FILE *file = name == NULL ? NULL : fopen(name, "r");
    long off = 0;
    if (file != NULL) {
        if (fscanf(file, "%ld", &off) != 1) off = 0;
        fclose(file);
    }
    at->tv_sec += off;
    return 0;
}
