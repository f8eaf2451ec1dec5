// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include "training/bundle.h"

#include <algorithm>
#include <sstream>
#include <vector>

#include "shimsight/core.h"

namespace shimsight::training {
namespace {

/// "view_drill.js" as a name in the script.
std::string variableOf(const std::string& module) {
    std::string name = "module_";
    for (const char c : module) name += std::isalnum(static_cast<unsigned char>(c)) != 0 ? c : '_';
    return name;
}

struct Import {
    std::string names;  ///< "{a, b as c}" or "* as a"
    std::string module;
};

/// Of a whole import, up to its semicolon.
Import importOf(const std::string& text) {
    const std::size_t from = text.find(" from \"./");
    const std::size_t begin = from + 9, end = text.find('"', begin);
    check(from != std::string::npos && end != std::string::npos, "a page's import: " + text);
    return {text.substr(7, from - 7), text.substr(begin, end - begin)};
}

std::string importedAs(const Import& import) {
    if (import.names.starts_with("* as ")) return "const " + import.names.substr(5) + " = " + variableOf(import.module);
    std::string names = import.names;
    for (std::size_t at = 0; (at = names.find(" as ", at)) != std::string::npos;) names.replace(at, 4, ": ");
    return "const " + names + " = " + variableOf(import.module);
}

/// The name that an export line declares.
std::string exportedName(const std::string& declaration) {
    std::istringstream words(declaration);
    std::string word;
    while (words >> word && (word == "const" || word == "let" || word == "function" || word == "async" ||
                             word == "class" || word == "function*")) {
    }
    const std::size_t end = word.find_first_of("(={;");
    return word.substr(0, end);
}

class Bundle {
public:
    explicit Bundle(const std::function<std::string(const std::string&)>& file) : file_(file) {}

    void add(const std::string& module) {
        if (std::find(done_.begin(), done_.end(), module) != done_.end()) return;
        check(std::find(open_.begin(), open_.end(), module) == open_.end(),
              "modules of a page import each other in a circle: " + module);
        open_.push_back(module);
        std::istringstream lines(file_(module));
        std::string body, exports;
        for (std::string line; std::getline(lines, line);) {
            if (line.starts_with("import ")) {
                while (line.find(';') == std::string::npos) {
                    std::string more;
                    check(static_cast<bool>(std::getline(lines, more)), "a page's import that does not end");
                    line += " " + more;
                }
                const Import import = importOf(line);
                add(import.module);
                body += importedAs(import) + ";\n";
                continue;
            }
            if (line.starts_with("export ")) {
                line = line.substr(7);
                exports += exportedName(line) + ", ";
            }
            body += line + "\n";
        }
        open_.pop_back();
        done_.push_back(module);
        text_ += "const " + variableOf(module) + " = (() => {\n" + body + "return { " + exports + "};\n})();\n";
    }

    const std::string& text() const { return text_; }

private:
    const std::function<std::string(const std::string&)>& file_;
    std::vector<std::string> open_, done_;
    std::string text_;
};

}  // namespace

std::string bundled(std::string_view entry, const std::function<std::string(const std::string&)>& file) {
    Bundle bundle(file);
    bundle.add(std::string(entry));
    return bundle.text();
}

}  // namespace shimsight::training
