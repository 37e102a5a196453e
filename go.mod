module backfield

go 1.26

require (
	github.com/BurntSushi/toml v1.6.0 // indirect
	github.com/agnivade/levenshtein v1.2.2 // indirect
)
