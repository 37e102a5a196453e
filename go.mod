module backfield

go 1.26

require (
	github.com/BurntSushi/toml v1.6.0 // indirect
	github.com/agnivade/levenshtein v1.2.2 // indirect
	github.com/fsnotify/fsnotify v1.10.1 // indirect
	github.com/hypebeast/go-osc v0.0.0-20220308234300-cec5a8a1e5f5 // indirect
	golang.org/x/sys v0.13.0 // indirect
)
