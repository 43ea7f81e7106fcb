package awake

import (
	"bufio"
	"bytes"
	"encoding/binary"
	"fmt"
	"net"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"

	"github.com/godbus/dbus/v5"
	"github.com/stretchr/testify/require"
)

// fakeBus speaks the bus's side of the D-Bus protocol on a socket: enough to be greeted and called.
// Source: D-Bus Specification, "Authentication Protocol" and "Message Protocol".
type fakeBus struct {
	path string
	// answer gives the reply to a call. An error becomes an error reply; a file is handed over. With nil the bus takes
	// connections and says nothing.
	answer func(method string, args []any) (any, error)
	calls  chan string   // every call but the greeting: method and arguments
	gone   chan struct{} // a value for each connection that ended
	came   chan struct{} // a value for each connection that was made
}

func newBus(t *testing.T, answer func(string, []any) (any, error)) *fakeBus {
	bus := &fakeBus{
		path: filepath.Join(t.TempDir(), "bus"), answer: answer,
		calls: make(chan string, 10), gone: make(chan struct{}, 10), came: make(chan struct{}, 10),
	}
	l, err := net.Listen("unix", bus.path)
	require.NoError(t, err)
	t.Cleanup(func() { l.Close() })
	go func() {
		for {
			c, err := l.Accept()
			if err != nil {
				return
			}
			bus.came <- struct{}{}
			go bus.serve(c.(*net.UnixConn))
		}
	}()
	return bus
}

// dial is how the code under test reaches the bus.
func (bus *fakeBus) dial(opts ...dbus.ConnOption) (*dbus.Conn, error) {
	return dbus.Dial("unix:path="+bus.path, opts...)
}

func (bus *fakeBus) serve(c *net.UnixConn) {
	defer func() { bus.gone <- struct{}{} }()
	defer c.Close()
	in := bufio.NewReader(c)
	for bus.authenticate(c, in) {
	}
	for {
		msg, err := dbus.DecodeMessage(in)
		if err != nil {
			return
		}
		method, _ := msg.Headers[dbus.FieldMember].Value().(string)
		if method == "Hello" {
			bus.reply(c, msg, ":1.1", nil)
			continue
		}
		path, _ := msg.Headers[dbus.FieldPath].Value().(dbus.ObjectPath)
		bus.calls <- fmt.Sprint(path, " ", method, " ", msg.Body)
		if msg.Flags&dbus.FlagNoReplyExpected == 0 {
			result, err := bus.answer(method, msg.Body)
			bus.reply(c, msg, result, err)
		}
	}
}

// authenticate answers one line of the greeting; false is the end of it.
func (bus *fakeBus) authenticate(c *net.UnixConn, in *bufio.Reader) bool {
	line, err := in.ReadString('\n')
	if err != nil {
		return false
	}
	if bus.answer == nil {
		return true
	}
	answer := "REJECTED EXTERNAL"
	switch line = strings.Trim(line, "\x00\r\n"); {
	case line == "BEGIN":
		return false
	case line == "NEGOTIATE_UNIX_FD":
		answer = "AGREE_UNIX_FD"
	case strings.HasPrefix(line, "AUTH EXTERNAL"), strings.HasPrefix(line, "DATA"):
		answer = "OK 0123456789abcdef0123456789abcdef"
	}
	_, err = fmt.Fprintf(c, "%s\r\n", answer)
	return err == nil
}

func (bus *fakeBus) reply(c *net.UnixConn, call *dbus.Message, result any, failure error) {
	msg := &dbus.Message{Type: dbus.TypeMethodReply, Headers: map[dbus.HeaderField]dbus.Variant{
		dbus.FieldReplySerial: dbus.MakeVariant(call.Serial()),
	}}
	var rights []byte
	if failure != nil {
		msg.Type, result = dbus.TypeError, failure.Error()
		msg.Headers[dbus.FieldErrorName] = dbus.MakeVariant("org.freedesktop.DBus.Error.AccessDenied")
	} else if f, ok := result.(*os.File); ok {
		defer f.Close()
		rights, result = syscall.UnixRights(int(f.Fd())), dbus.UnixFDIndex(0)
		msg.Headers[dbus.FieldUnixFDs] = dbus.MakeVariant(uint32(1))
	}
	msg.Body = []any{result}
	msg.Headers[dbus.FieldSignature] = dbus.MakeVariant(dbus.SignatureOf(result))
	var wire bytes.Buffer
	if err := msg.EncodeTo(&wire, binary.LittleEndian); err != nil {
		panic(err)
	}
	binary.LittleEndian.PutUint32(wire.Bytes()[8:], 1) // the serial, which the library keeps to itself
	// A caller that has gone away gets no answer.
	_, _, _ = c.WriteMsgUnix(wire.Bytes(), rights, nil)
}
