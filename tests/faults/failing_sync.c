/* Preloaded (ld.so(8), LD_PRELOAD): while the file that FAILING_SYNC names is there, no sync of a file succeeds,
   and while that of HANGING_SYNC is there, none returns. */
#define _GNU_SOURCE
#include <dlfcn.h>
#include <errno.h>
#include <stdlib.h>
#include <unistd.h>

static int fails(void) {
    const char *hangs = getenv("HANGING_SYNC");
    while (hangs != NULL && access(hangs, F_OK) == 0) usleep(20000);
    const char *name = getenv("FAILING_SYNC");
    int before = errno, there = name != NULL && access(name, F_OK) == 0;
    errno = there ? EIO : before;
    return there;
}

int fdatasync(int file) {
    static int (*real)(int);
    if (fails()) return -1;
    if (real == NULL) *(void **)&real = dlsym(RTLD_NEXT, "fdatasync");
    return real(file);
}

int fsync(int file) {
    static int (*real)(int);
    if (fails()) return -1;
    if (real == NULL) *(void **)&real = dlsym(RTLD_NEXT, "fsync");
    return real(file);
}
