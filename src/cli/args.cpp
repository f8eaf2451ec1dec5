// SPDX-FileCopyrightText: 2026 Shimsight developers
// SPDX-License-Identifier: MIT
#include "cli/args.h"

#include <CLI/CLI.hpp>
#include <algorithm>
#include <cmath>
#include <cstdio>
#include <functional>
#include <map>

#include "cli/output.h"
#include "cli/report.h"
#include "shimsight/words.h"

namespace shimsight::cli {

struct Args::State {
    explicit State(const std::string& description, const std::string& name) : app(description, name) {}
    CLI::App app;
    std::optional<std::string> units;
    std::map<std::string, std::string> formerNames;
    std::vector<std::function<void()>> steps;  ///< conversions that run after parsing
};

namespace {

CLI::Option* addText(CLI::App& app, const std::string& name, const std::string& valueName, const std::string& help,
                     const std::shared_ptr<std::string>& store) {
    return app.add_option(name, *store, help)->type_name(valueName)->multi_option_policy(CLI::MultiOptionPolicy::Throw);
}

std::string joined(const std::vector<std::string>& words, std::string_view separator) {
    std::string text;
    for (const std::string& word : words) {
        if (!text.empty()) text += separator;
        text += word;
    }
    return text;
}

}  // namespace

double errorMm(const std::optional<Length>& length, const char* option) {
    constexpr double kMaxMm = 2;
    if (!length) return 0;
    if (std::abs(length->mm()) > kMaxMm)
        throw UsageError(
            say("cli.error-too-large", option, formatLength(*length), formatLength(Length::fromMm(kMaxMm))));
    return length->mm();
}

Args::Args(std::string_view command, std::string_view description)
    : state_(std::make_unique<State>(std::string(description), "shimsight " + std::string(command))) {
    state_->app.set_help_flag("-h,--help", say("cli.help-of-help"));
    choice("--units", state_->units, {"in", "mm", "both"}, say("cli.help-of-units"));
}

Args::~Args() = default;

void Args::flag(const std::string& name, bool& into, const std::string& help) {
    state_->app.add_flag(name, into, help);
}

void Args::length(const std::string& name, std::optional<Length>& into, const std::string& help) {
    auto store = std::make_shared<std::string>();
    CLI::Option* option = addText(state_->app, name, "LEN", help, store);
    state_->steps.push_back([=, &into] {
        if (option->count() == 0) return;
        try {
            into = parseLength(*store, name);
        } catch (const InputError& error) {
            throw UsageError(error.what());
        }
    });
}

void Args::number(const std::string& name, std::optional<double>& into, const std::string& unit, double low,
                  double high, const std::string& help) {
    auto store = std::make_shared<std::string>();
    CLI::Option* option = addText(state_->app, name, unit, help, store);
    state_->steps.push_back([=, &into] {
        if (option->count() == 0) return;
        double value = 0;
        if (!CLI::detail::lexical_cast(*store, value) || !std::isfinite(value) || value < low || value > high) {
            throw UsageError(say("cli.not-a-number", name, *store, formatted("%g", low), formatted("%g", high)));
        }
        into = value;
    });
}

void Args::integer(const std::string& name, std::optional<int>& into, int low, int high, const std::string& help) {
    auto store = std::make_shared<std::string>();
    CLI::Option* option = addText(state_->app, name, "NUMBER", help, store);
    state_->steps.push_back([=, &into] {
        if (option->count() == 0) return;
        int value = 0;
        if (!CLI::detail::lexical_cast(*store, value) || value < low || value > high)
            throw UsageError(say("cli.not-a-whole-number", name, *store, low, high));
        into = value;
    });
}

void Args::choice(const std::string& name, std::optional<std::string>& into, const std::vector<std::string>& choices,
                  const std::string& help) {
    auto store = std::make_shared<std::string>();
    CLI::Option* option = addText(state_->app, name, joined(choices, "|"), help, store);
    state_->steps.push_back([=, &into] {
        if (option->count() == 0) return;
        if (std::find(choices.begin(), choices.end(), *store) == choices.end())
            throw UsageError(say("cli.not-one-of", name, *store, joined(choices, ", ")));
        into = *store;
    });
}

void Args::text(const std::string& name, std::optional<std::string>& into, const std::string& valueName,
                const std::string& help) {
    auto store = std::make_shared<std::string>();
    CLI::Option* option = addText(state_->app, name, valueName, help, store);
    state_->steps.push_back([=, &into] {
        if (option->count() == 0) return;
        if (store->empty()) throw UsageError(say("cli.value-empty", name));
        into = *store;
    });
}

void Args::requiredText(const std::string& name, std::string& into, const std::string& valueName,
                        const std::string& help) {
    auto store = std::make_shared<std::string>();
    CLI::Option* option = addText(state_->app, name, valueName, say("cli.help-needed", help), store);
    state_->steps.push_back([=, &into] {
        if (option->count() == 0) throw UsageError(say("cli.option-missing", name, valueName));
        if (store->empty()) throw UsageError(say("cli.value-empty", name));
        into = *store;
    });
}

void Args::texts(const std::string& name, std::vector<std::string>& into, const std::string& valueName,
                 const std::string& help) {
    state_->app.add_option(name, into, say("cli.help-many", help))
        ->type_name(valueName)
        ->expected(1)
        ->multi_option_policy(CLI::MultiOptionPolicy::TakeAll);
}

void Args::noneOrTwoTexts(const std::string& name, std::optional<std::vector<std::string>>& into,
                          const std::string& valueNames, const std::string& help) {
    auto store = std::make_shared<std::vector<std::string>>();
    CLI::Option* option = state_->app.add_option(name, *store, help)->type_name(valueNames)->expected(0, 2);
    state_->steps.push_back([=, &into] {
        if (option->count() == 0) return;
        std::erase(*store, "");  // the library's word for none
        if (store->size() == 1) throw UsageError(say("cli.none-or-two", name, valueNames));
        into = *store;
    });
}

void Args::words(const std::string& valueName, std::vector<std::string>& into, std::size_t least,
                 const std::string& help) {
    state_->app.add_option(valueName, into, help)->type_name("");
    state_->steps.push_back([=, &into] {
        if (into.size() < least)
            throw UsageError(least == 1 ? say("cli.word-missing", valueName)
                                        : say("cli.words-missing", valueName, least));
    });
}

void Args::footer(const std::string& text) { state_->app.footer(text); }

void Args::formerly(const std::string& was, const std::string& is) { state_->formerNames[was] = is; }

bool Args::parse(const std::vector<std::string>& words) {
    std::vector<std::string> backwards(words.rbegin(), words.rend());
    for (std::string& word : backwards) {
        const std::string name = word.substr(0, word.find('='));
        if (const auto former = state_->formerNames.find(name); former != state_->formerNames.end())
            word.replace(0, name.size(), former->second);
    }
    try {
        state_->app.parse(std::move(backwards));
    } catch (const CLI::CallForHelp&) {
        printRaw(state_->app.help());
        return false;
    } catch (const CLI::ExtrasError&) {
        throw UsageError(say("cli.word-too-many", joined(state_->app.remaining(), " ")));
    } catch (const CLI::ParseError& error) {
        throw UsageError(std::string(error.what()) + ".");
    }
    for (const auto& step : state_->steps) step();
    if (state_->units) showUnits(*unitsOf(*state_->units));
    return true;
}

}  // namespace shimsight::cli
