# cmake -DFOLDER=src/view/page -DOUT=assets.c -P assets.cmake: the files as C arrays.
file(GLOB files RELATIVE ${FOLDER} ${FOLDER}/*.html ${FOLDER}/*.css ${FOLDER}/*.js ${FOLDER}/*.svg)
list(SORT files)
set(types_html "text/html; charset=utf-8")
set(types_css "text/css; charset=utf-8")
set(types_js "text/javascript; charset=utf-8")
set(types_svg "image/svg+xml")
set(arrays "")
set(rows "")
set(i 0)
foreach(file IN LISTS files)
  file(READ ${FOLDER}/${file} hex HEX)
  string(REGEX REPLACE "([0-9a-f][0-9a-f])" "0x\\1," bytes "${hex}")
  string(REGEX REPLACE "^.*\\." "" ending ${file})
  string(APPEND arrays "static const unsigned char file_${i}[] = {${bytes}};\n")
  string(APPEND rows "    {\"${file}\", \"${types_${ending}}\", file_${i}, sizeof file_${i}},\n")
  math(EXPR i "${i} + 1")
endforeach()
file(WRITE ${OUT} "#include \"view/assets.h\"\n\n#include <string.h>\n\n${arrays}
static const mil_asset files[] = {\n${rows}};

const mil_asset *mil_asset_of(const char *path) {
    for (size_t i = 0; i < sizeof files / sizeof *files; i++)
        if (strcmp(files[i].path, path) == 0)
            return &files[i];
    return NULL;
}\n")
