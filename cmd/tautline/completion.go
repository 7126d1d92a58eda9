package main

import (
	"context"
	"fmt"
	"maps"
	"slices"
	"strings"

	"github.com/spf13/pflag"

	"tautline/strategy/spelling"
)

func completionCommand() *command {
	return &command{
		name: "completion", operands: "SHELL", for_: forAll,
		summary: "print what a shell needs to complete subcommands, options and files",
		about: "SHELL is bash, zsh or fish. Put the output where the shell looks for it:\n\n" +
			"  tautline completion bash > ~/.local/share/bash-completion/completions/tautline\n" +
			"  tautline completion zsh > ~/.zfunc/_tautline     # a folder of $fpath\n" +
			"  tautline completion fish > ~/.config/fish/completions/tautline.fish",
		run: runCompletion,
	}
}

// noOptions is for subcommands without any.
type noOptions struct{}

func (noOptions) define(*pflag.FlagSet) {}
func (noOptions) validate() error       { return nil }

func runCompletion(_ context.Context, e *env, args []string) error {
	operands, err := completionCommand().parse(e, args, noOptions{}, 1, 1)
	if err != nil {
		return err
	}
	if script := shells()[operands[0]]; script != nil {
		e.out.WriteString(script(definitions()))
		return nil
	}
	advice := "write " + strings.Join(shellNames(), ", ")
	if near := spelling.Nearest(operands[0], shellNames()); near != "" {
		advice = fmt.Sprintf("did you mean %q?", near)
	}
	return &usageError{fmt.Sprintf("there is no completion for the shell %q", operands[0]), advice}
}

// shells gives the script for each shell.
func shells() map[string]func([]definition) string {
	return map[string]func([]definition) string{"bash": bashScript, "zsh": zshScript, "fish": fishScript}
}

func shellNames() []string { return slices.Sorted(maps.Keys(shells())) }

// single quotes a text for a shell.
func single(s string) string { return "'" + strings.ReplaceAll(s, "'", `'\''`) + "'" }

// brief is the first clause of an option's text, short enough for a list.
func (o option) brief() string {
	short, _, _ := strings.Cut(o.what, ";")
	if at := strings.Index(short, ": "); at > 0 {
		short = short[:at]
	}
	if r := []rune(short); len(r) > 72 {
		if at := strings.LastIndex(string(r[:71]), " "); at > 0 {
			short = string(r[:71])[:at] + " …"
		}
	}
	return short
}

// bashScript keeps to bash 3.2, which one system still ships.
func bashScript(all []definition) string {
	var b strings.Builder
	b.WriteString(`# Completion of tautline for bash, printed by: tautline completion bash

# files and folders that the current word begins; with endings only such files
_tautline_files() {
    local name end
    compopt -o filenames 2>/dev/null
    while IFS= read -r name; do
        if [ -d "$name" ] || [ $# -eq 0 ]; then
            COMPREPLY+=("$name")
            continue
        fi
        for end in "$@"; do
            case "$name" in
                *."$end") COMPREPLY+=("$name") ;;
            esac
        done
    done < <(compgen -f -- "$cur")
}

_tautline_folders() {
    local name
    compopt -o filenames 2>/dev/null
    while IFS= read -r name; do
        COMPREPLY+=("$name")
    done < <(compgen -d -- "$cur")
}

_tautline_words() {
    local word
    while IFS= read -r word; do
        COMPREPLY+=("$word")
    done < <(compgen -W "$1" -- "$cur")
}

_tautline() {
    local cur prev sub
    COMPREPLY=()
    cur="${COMP_WORDS[COMP_CWORD]}"
    prev="${COMP_WORDS[COMP_CWORD-1]}"
    # bash makes three words of --option=value
    if [ "$cur" = "=" ]; then
        cur=""
    elif [ "$prev" = "=" ] && [ "$COMP_CWORD" -ge 2 ]; then
        prev="${COMP_WORDS[COMP_CWORD-2]}"
    fi
`)
	fmt.Fprintf(&b, "    if [ \"$COMP_CWORD\" -eq 1 ]; then\n        _tautline_words '%s --help --version'\n        return\n    fi\n", strings.Join(commandNames(), " "))
	b.WriteString("    sub=\"${COMP_WORDS[1]}\"\n    case \"$sub $prev\" in\n")
	for _, d := range all {
		for _, o := range d.options {
			if o.value != "" {
				fmt.Fprintf(&b, "        '%s --%s') %s return ;;\n", d.name, o.name, o.takes.bash())
			}
		}
	}
	b.WriteString("    esac\n    case \"$sub $cur\" in\n")
	for _, d := range all {
		words := "--help"
		for _, o := range d.options {
			words += " --" + o.name
		}
		fmt.Fprintf(&b, "        '%s -'*) _tautline_words '%s' ;;\n", d.name, words)
		if does := d.operandKinds().bash(); does != "" {
			fmt.Fprintf(&b, "        '%s '*) %s ;;\n", d.name, strings.TrimSuffix(does, ";"))
		}
	}
	b.WriteString("    esac\n}\n\ncomplete -F _tautline tautline\n")
	return b.String()
}

func (k kind) bash() string {
	switch {
	case k.file && k.words == nil:
		return strings.TrimSpace("_tautline_files "+strings.Join(k.bothCases(), " ")) + ";"
	case k.folder:
		return "_tautline_folders;"
	case k.words != nil:
		return "_tautline_words '" + strings.Join(k.words, " ") + "';"
	}
	return ""
}

// bothCases gives the endings in small and in capital letters.
func (k kind) bothCases() []string {
	var out []string
	for _, e := range k.endings {
		out = append(out, e, strings.ToUpper(e))
	}
	return out
}

func zshScript(all []definition) string {
	var b strings.Builder
	b.WriteString("#compdef tautline\n# Completion of tautline for zsh, printed by: tautline completion zsh\n\n" +
		"_tautline() {\n  local curcontext=\"$curcontext\" state line\n  typeset -A opt_args\n" +
		"  _arguments -C '1: :->subcommand' '*:: :->rest' && return\n  case $state in\n  subcommand)\n    local -a names\n    names=(\n")
	for _, d := range all {
		fmt.Fprintf(&b, "      %s\n", single(strings.ReplaceAll(d.name, ":", `\:`)+":"+d.summary))
	}
	b.WriteString("    )\n    _describe -t commands subcommand names\n    ;;\n  rest)\n    case $words[1] in\n")
	inside := strings.NewReplacer(`\`, `\\`, "[", `\[`, "]", `\]`, ":", `\:`)
	for _, d := range all {
		fmt.Fprintf(&b, "    %s)\n      _arguments -S \\\n", d.name)
		fmt.Fprintf(&b, "        %s", single("--help[explain this subcommand]"))
		for _, o := range d.options {
			spec := "--" + o.name
			if o.value != "" {
				spec += "="
			}
			if o.repeated {
				spec = "*" + spec
			}
			spec += "[" + inside.Replace(o.brief()) + "]"
			if o.value != "" {
				spec += ":" + inside.Replace(o.value) + ":" + o.takes.zsh()
			}
			fmt.Fprintf(&b, " \\\n        %s", single(spec))
		}
		if k := d.operandKinds(); d.command.operands != "" {
			fmt.Fprintf(&b, " \\\n        %s", single("*:"+inside.Replace(d.command.operands)+":"+k.zsh()))
		}
		b.WriteString("\n      ;;\n")
	}
	b.WriteString("    esac\n    ;;\n  esac\n}\n\nif [ \"$funcstack[1]\" = _tautline ]; then\n  _tautline \"$@\"\nelse\n  compdef _tautline tautline\nfi\n")
	return b.String()
}

func (k kind) zsh() string {
	switch {
	case k.file && k.endings != nil:
		return `_files -g "*.(` + strings.Join(k.bothCases(), "|") + `)"`
	case k.file:
		return "_files"
	case k.folder:
		return "_files -/"
	case k.words != nil:
		return "(" + strings.Join(k.words, " ") + ")"
	}
	return " "
}

func fishScript(all []definition) string {
	var b strings.Builder
	b.WriteString(`# Completion of tautline for fish, printed by: tautline completion fish

function __tautline_is
    set -l words (commandline -opc)
    test (count $words) -gt 1; and test "$words[2]" = "$argv[1]"
end

function __tautline_first
    test (count (commandline -opc)) -eq 1
end

# files with one of the endings, and folders
function __tautline_files
    set -l word (commandline -ct)
    set word (string replace -r -- '^--[a-z-]+=' '' $word)
    set -l tilde (string match -r -- '^~/' $word)
    for name in (string replace -r -- '^~/' $HOME/ $word)*
        if test -n "$tilde"
            set name (string replace -- $HOME/ '~/' $name)
        end
        if test -d (string replace -r -- '^~/' $HOME/ $name)
            echo $name/
        else
            for end in $argv
                if string match -q -i -- "*.$end" $name
                    echo $name
                end
            end
        end
    end
end

complete -c tautline -f
complete -c tautline -n __tautline_first -l help -d 'explain the program'
complete -c tautline -n __tautline_first -l version -d 'print the version'
`)
	escape := func(s string) string { return "'" + strings.NewReplacer(`\`, `\\`, "'", `\'`).Replace(s) + "'" }
	for _, d := range all {
		fmt.Fprintf(&b, "complete -c tautline -n __tautline_first -a %s -d %s\n", d.name, escape(d.summary))
	}
	for _, d := range all {
		is := "complete -c tautline -n '__tautline_is " + d.name + "'"
		fmt.Fprintf(&b, "%s -l help -d 'explain this subcommand'\n", is)
		for _, o := range d.options {
			line := is + " -l " + o.name
			if o.value != "" {
				line += " " + o.takes.fish(true)
			}
			fmt.Fprintf(&b, "%s -d %s\n", line, escape(o.brief()))
		}
		if k := d.operandKinds(); k.file || k.folder || k.words != nil {
			fmt.Fprintf(&b, "%s %s\n", is, k.fish(false))
		}
	}
	return b.String()
}

func (k kind) fish(value bool) string {
	only := ""
	if value {
		only = "-x "
	}
	switch {
	case k.file && k.endings != nil:
		return only + "-a '(__tautline_files " + strings.Join(k.endings, " ") + ")'"
	case k.file && value:
		return "-r -F"
	case k.file:
		return "-F"
	case k.folder:
		return only + "-a '(__fish_complete_directories)'"
	case k.words != nil:
		return only + "-a '" + strings.Join(k.words, " ") + "'"
	}
	return "-x"
}
