/* Writes down what a program does to the files of one folder, in order, so that a power cut at
 * any moment can be acted out afterwards. Preloaded; TORTURE_FOLDER names the folder and
 * TORTURE_TRACE the file written to. A record is a header and then, for a write, its bytes. */
#define _GNU_SOURCE
#include <dlfcn.h>
#include <fcntl.h>
#include <limits.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/syscall.h>
#include <unistd.h>

struct record {
    char kind[8];
    int64_t offset, length;
    char name[104];
};

static int trace = -1;

static void note(const char *kind, const char *path, int64_t offset, int64_t length, const void *data)
{
    const char *folder = getenv("TORTURE_FOLDER"), *file = getenv("TORTURE_TRACE");
    if (!folder || !file || strncmp(path, folder, strlen(folder)) != 0)
        return;
    if (trace < 0)
        trace = syscall(SYS_openat, AT_FDCWD, file, O_WRONLY | O_CREAT | O_APPEND | O_CLOEXEC, 0600);
    struct record record = {.offset = offset, .length = length};
    strncpy(record.kind, kind, sizeof record.kind - 1);
    strncpy(record.name, strrchr(path, '/') + 1, sizeof record.name - 1);
    syscall(SYS_write, trace, &record, sizeof record);
    if (data)
        syscall(SYS_write, trace, data, length);
}

static void note_fd(const char *kind, int fd, int64_t offset, int64_t length, const void *data)
{
    char link[64], path[PATH_MAX];
    snprintf(link, sizeof link, "/proc/self/fd/%d", fd);
    ssize_t size = readlink(link, path, sizeof path - 1);
    if (size <= 0 || path[0] != '/')
        return;
    path[size] = 0;
    note(kind, path, offset, length, data);
}

#define REAL(name) ((__typeof__(&name))dlsym(RTLD_NEXT, #name))

ssize_t write(int fd, const void *data, size_t size)
{
    ssize_t done = REAL(write)(fd, data, size);
    if (done > 0 && fd > 2)
        note_fd("write", fd, lseek(fd, 0, SEEK_CUR) - done, done, data);
    return done;
}

ssize_t pwrite(int fd, const void *data, size_t size, off_t offset)
{
    ssize_t done = REAL(pwrite)(fd, data, size, offset);
    if (done > 0)
        note_fd("write", fd, offset, done, data);
    return done;
}

ssize_t pwrite64(int fd, const void *data, size_t size, off64_t offset)
{
    ssize_t done = REAL(pwrite64)(fd, data, size, offset);
    if (done > 0)
        note_fd("write", fd, offset, done, data);
    return done;
}

#define SYNC(name) \
    int name(int fd) { int failed = REAL(name)(fd); if (!failed) note_fd("sync", fd, 0, 0, 0); return failed; }
SYNC(fsync)
SYNC(fdatasync)

#define TRUNCATE(name, type) \
    int name(int fd, type size) { int failed = REAL(name)(fd, size); \
        if (!failed) note_fd("cut", fd, size, 0, 0); return failed; }
TRUNCATE(ftruncate, off_t)
TRUNCATE(ftruncate64, off64_t)

int unlink(const char *path)
{
    int failed = REAL(unlink)(path);
    if (!failed)
        note("unlink", path, 0, 0, 0);
    return failed;
}
