"""What is installed: the library alone serves a C program, exports milori_ only, and the
sources compile with one cc line."""
import glob
import os
import re
import shlex
import subprocess
import tempfile
import unittest

from program import SOURCE, main

LIBRARIES = ["libtiff-4", "libpng", "libjpeg", "zlib", "exempi-2.0", "libxxhash", "lcms2", "jansson",
             "freetype2", "fontconfig", "zimg", "libmicrohttpd"]


def example():
    """The program that libmilori(3) shows."""
    with open(os.path.join(SOURCE, "man", "libmilori.3"), encoding="utf-8") as f:
        code = f.read().split(".EX\n")[1].split(".EE")[0]
    return code.replace("\\e", "\\")


def run(*command, **more):
    done = subprocess.run(command, stdout=subprocess.PIPE, stderr=subprocess.STDOUT,
                          encoding="utf-8", errors="replace", check=False, **more)
    if done.returncode:
        raise AssertionError(f"{shlex.join(command)}:\n{done.stdout[-4000:]}")
    return done.stdout


class Installed(unittest.TestCase):
    def install(self, shared):
        place = tempfile.TemporaryDirectory(prefix="milori-install-")
        self.addCleanup(place.cleanup)
        build, prefix = os.path.join(place.name, "build"), os.path.join(place.name, "prefix")
        run("cmake", "-S", SOURCE, "-B", build, "-DCMAKE_BUILD_TYPE=Debug", "-DMILORI_TESTS=OFF",
            f"-DBUILD_SHARED_LIBS={'ON' if shared else 'OFF'}", f"-DCMAKE_INSTALL_PREFIX={prefix}",
            "-DCMAKE_INSTALL_LIBDIR=lib")
        run("cmake", "--build", build, "-j", "2")
        run("cmake", "--install", build)
        return prefix

    def compile_against(self, prefix):
        source, program = os.path.join(prefix, "try.c"), os.path.join(prefix, "try")
        with open(source, "w", encoding="utf-8") as f:
            f.write(example())
        env = dict(os.environ, PKG_CONFIG_PATH=os.path.join(prefix, "lib", "pkgconfig"),
                   LD_LIBRARY_PATH=os.path.join(prefix, "lib"))
        flags = shlex.split(run("pkg-config", "--cflags", "--libs", "milori", env=env))
        run("cc", "-std=c17", "-Wall", "-Wextra", "-Werror", source, "-o", program, *flags)
        said = subprocess.run([program], env=env, cwd=prefix, stderr=subprocess.PIPE, check=False,
                              encoding="utf-8")
        self.assertEqual((said.returncode, said.stderr.count("\n")), (1, 1))
        self.assertIn("glasshouse.tif", said.stderr)
        return program, env

    def check_files(self, prefix):
        for path in ("bin/milori", "include/milori/milori.h", "lib/pkgconfig/milori.pc",
                     "share/man/man1/milori.1", "share/man/man1/milori-positive.1",
                     "share/man/man1/milori-measure.1", "share/man/man3/libmilori.3",
                     "share/bash-completion/completions/milori"):
            self.assertTrue(os.path.isfile(os.path.join(prefix, path)), path)
        version = run(os.path.join(prefix, "bin", "milori"), "--version").split()[1]
        env = dict(os.environ, PKG_CONFIG_PATH=os.path.join(prefix, "lib", "pkgconfig"))
        self.assertEqual(run("pkg-config", "--modversion", "milori", env=env).strip(), version)

    def check_symbols(self, prefix):
        names = [line.split()[-1] for line in run(
            "nm", "-D", "--defined-only", os.path.join(prefix, "lib", "libmilori.so")).splitlines()]
        self.assertTrue(all(name.startswith("milori_") for name in names), names)
        with open(os.path.join(SOURCE, "include", "milori", "milori.h"), encoding="utf-8") as f:
            text = f.read()
        declared = re.findall(r"MILORI_API [^;]*?\b(milori_\w+)\(", text)
        self.assertGreater(len(declared), 20)
        self.assertEqual(sorted(names), sorted(declared))

    def test_shared(self):
        prefix = self.install(shared=True)
        self.check_files(prefix)
        self.check_symbols(prefix)
        program, env = self.compile_against(prefix)
        self.assertIn("libmilori.so.0", run("ldd", program, env=env))

    def test_static_by_one_cc_line(self):
        """No build system: every source on one cc line, into a command that runs."""
        with tempfile.TemporaryDirectory(prefix="milori-cc-") as place:
            program = os.path.join(place, "milori")
            flags = shlex.split(run("pkg-config", "--cflags", "--libs", *LIBRARIES))
            assets = os.path.join(place, "assets.c")  # the live page's files as C
            run("cmake", "-DFOLDER=" + os.path.join(SOURCE, "src", "view", "page"),
                "-DOUT=" + assets, "-P", os.path.join(SOURCE, "src", "view", "assets.cmake"))
            run("cc", "-std=c17", "-D_DEFAULT_SOURCE", "-D_FILE_OFFSET_BITS=64",
                '-DMILORI_VERSION="0"', "-Iinclude", "-Isrc",
                *sorted(glob.glob(os.path.join(SOURCE, "src", "*", "*.c"))), assets, "-o", program, *flags,
                "-lm", "-pthread", cwd=SOURCE)
            self.assertEqual(run(program, "--version"), "milori 0\n")

    def test_static_library(self):
        self.compile_against(self.install(shared=False))


class ManPages(unittest.TestCase):
    def test_no_warning_and_a_name(self):
        pages = sorted(glob.glob(os.path.join(SOURCE, "man", "*.[0-9]")))
        self.assertGreaterEqual(len(pages), 3)
        for page in pages:
            env = dict(os.environ, LC_ALL="C.UTF-8", MANWIDTH="80")
            said = subprocess.run(["man", "--warnings", "-E", "UTF-8", "-l", "-Tutf8", "-Z", page],
                                  stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, env=env,
                                  encoding="utf-8", check=True).stderr
            self.assertEqual(said, "")
            name = os.path.basename(page).rsplit(".", 1)[0]
            self.assertIn(f'"{name} - ', run("lexgrog", page))


if __name__ == "__main__":
    main()
