package web

import (
	"database/sql"
	"fmt"
	"path/filepath"
	"strings"

	_ "github.com/mattn/go-sqlite3"
	"github.com/stretchr/testify/require"
)

// dump is every stored row but those of sessions, whose "last seen" moves with
// every request.
func (c *clinic) dump() string {
	files, err := filepath.Glob(filepath.Join(c.Dir, "*.db"))
	require.NoError(c.T, err)
	require.Len(c.T, files, 1)
	db, err := sql.Open("sqlite3", "file:"+files[0]+"?mode=ro")
	require.NoError(c.T, err)
	defer func() { require.NoError(c.T, db.Close()) }()
	var b strings.Builder
	for _, table := range c.column(db, `SELECT name FROM sqlite_schema WHERE type='table' AND name NOT LIKE 'sqlite_%' ORDER BY 1`) {
		if table == "sessions" {
			continue
		}
		names := c.column(db, `SELECT name FROM pragma_table_info('`+table+`')`)
		rows := c.column(db, fmt.Sprintf(`SELECT json_array(%s) FROM %s ORDER BY 1`, quoted(names), table))
		fmt.Fprintf(&b, "%s: %s\n", table, strings.Join(rows, "\n"))
	}
	return b.String()
}

// quoted writes blobs as hex so that any column fits a JSON array.
func quoted(names []string) string {
	for i, n := range names {
		names[i] = "quote(" + n + ")"
	}
	return strings.Join(names, ",")
}

func (c *clinic) column(db *sql.DB, query string) (all []string) {
	rows, err := db.Query(query)
	require.NoError(c.T, err, query)
	defer func() { require.NoError(c.T, rows.Close()) }()
	for rows.Next() {
		var s string
		require.NoError(c.T, rows.Scan(&s))
		all = append(all, s)
	}
	require.NoError(c.T, rows.Err())
	return all
}
